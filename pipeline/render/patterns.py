"""The page on what comes back: every name against luck, and faults that began together on several machines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.page_weight import cells_bytes, fitting
from pipeline.render.pattern_words import (
    IN_ORDER,
    KINDS,
    call,
    coincidence,
    kind_names,
    leads,
    name_word,
    nameless,
    onset_word,
    played_again,
    titles,
    together_kinds,
)
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.words import counted, duration, hours, listed, within

MOST_LINKS = 12
MOST_BEHIND = 40
MOST_CLUSTERS = 200
CLUSTER_BYTES, LINK_BYTES = 250_000, 110  # of the table of coincidences, and of a link in it
MOST_ROWS = 12  # of kinds with many names, those least likely by luck are printed one by one


def pattern_sheet(reading: Reading) -> Sheet:
    """The sheet "What comes back", from the part ``patterns`` of the figures."""
    found = reading.figures["patterns"]
    began = {row["incident"]: reading.local.minute(row["started_at_utc"]) for row in reading.incidents}
    behind = [_linked(row) for row in ordered(found["names"]) if row["which"]]
    clusters = found["coincidences"]["clusters"]
    context = {
        "told": [*_opening(found), *together(found), *again(found)],
        "found": found,
        "name_word": name_word,
        "kinds": [kind_table(found, kind) for kind in KINDS],
        "behind": behind[:MOST_BEHIND],
        "behind_count": len(behind),
        "began": began.__getitem__,
        "tests": [{**test, "said": together_kinds()[test["kind"]]} for test in found["coincidences"]["kinds"]],
        "clusters": _latest(reading, clusters),
        "clusters_count": len(clusters),
        "window": duration(found["coincidences"]["window_s"]),
    }
    title = say("What comes back")
    return Sheet("patterns.html", "patterns.html.j2", title, period(reading.figures), context, _not_known(found))


def _opening(found: Mapping[str, Any]) -> list[str]:
    if not found["events"]:
        return [say("No interruption and no protect switch is logged, so nothing can come back.")]
    called = [row for row in ordered(found["names"]) if is_called(row, found["level"])]
    start = say(
        "{events} in {hours} of air: interruptions, and protect switches outside them, each once. If all air were "
        "alike, each name below would have its share of them by its own hours on air. {comparisons} were made in all, "
        "and the adjusted p allows for that number.",
        events=counted(found["events"], "event"),
        hours=hours(found["air_s"]),
        comparisons=counted(found["comparisons"], "comparison"),
    )
    if called:
        return [start, *(call(row) for row in called)]
    none = say("No name stands out: the highest of so many names easily has as many events as any here by luck alone.")
    return [f"{start} {none}"]


def _linked(row: Row) -> Row:
    which = row["which"]
    said = kind_names()[row["kind"]]
    return {**row, "said": said, "which": which[:MOST_LINKS], "unlinked": max(0, len(which) - MOST_LINKS)}


def is_called(row: Mapping[str, Any], level: float) -> bool:
    """Whether the adjusted p of a name or a kind of coincidence is below the level."""
    return row["adjusted_p"] is not None and row["adjusted_p"] < level


def together(found: Mapping[str, Any]) -> list[str]:
    """What the coincidences say, a sentence a kind."""
    return [
        coincidence(
            test, found["coincidences"]["window_s"], is_called=test["p"] is not None and is_called(test, found["level"])
        )
        for test in found["coincidences"]["kinds"]
    ]


def again(found: Mapping[str, Any]) -> list[str]:
    """Reels that were booked in more than one coincidence, in a sentence; nothing where there is none."""
    played = Counter(
        reel
        for cluster in found["coincidences"]["clusters"]
        for reel in sorted({onset["reel"] for onset in cluster["onsets"] if onset["reel"]})
    )
    told = played_again(played)
    return [told] if told else []


def kind_table(found: Mapping[str, Any], kind: str) -> Row:
    """One kind's table: rows printed one by one, the rest summed, and what has no name; together they are the room."""
    rows = [row for row in found["names"] if row["kind"] == kind]
    named = ordered([row for row in rows if row["name"] is not None])
    if kind == IN_ORDER:
        named.sort(key=lambda row: str(row["name"]))
    most = len(named) if kind == IN_ORDER or len(named) <= MOST_ROWS + 1 else MOST_ROWS
    quiet = next((row for row in found["quiet"] if row["kind"] == kind), None)
    return {
        "kind": kind,
        "id": kind.replace(" ", "-"),
        "title": titles()[kind],
        "lead": leads()[kind],
        "rows": [{**row, "is_called": is_called(row, found["level"])} for row in named[:most]],
        "more": _sum(named[most:]),
        "quiet": quiet,
        "nameless": next((row for row in rows if row["name"] is None), None),
        "has_names": bool(named or quiet),
    }


def _sum(rows: Rows) -> Row | None:
    if not rows:
        return None
    sums = {name: sum(row[name] for row in rows) for name in ("count", "exposure_s", "expected")}
    return {**sums, "names": len(rows), "most": max(row["count"] for row in rows)}


def ordered(rows: Sequence[Row]) -> Rows:
    """Names by how unlikely luck makes them, those that are not compared last; never by count alone."""
    return sorted(
        rows, key=lambda row: (row["p"] is None, row["p"] or 0.0, -row["count"], row["kind"], row["name"] or "")
    )


def _latest(reading: Reading, clusters: Rows) -> Rows:
    """The latest coincidences that the page can carry, in order of time."""
    latest = [_cluster(reading, cluster) for cluster in clusters[-MOST_CLUSTERS:]]
    return list(fitting(latest[::-1], CLUSTER_BYTES, _cluster_bytes))[::-1]


def _cluster_bytes(row: Row) -> int:
    cells = (row["began"], row["kind"], row["what"], row["reels"], row["spread"])
    return cells_bytes(*cells) + LINK_BYTES * len(row["incidents"])


def _cluster(reading: Reading, cluster: Mapping[str, Any]) -> Row:
    onsets = [{**onset, "at_utc": _instant(onset["at"])} for onset in cluster["onsets"]]
    first, last = onsets[0]["at_utc"], onsets[-1]["at_utc"]
    return {
        "kind": together_kinds()[cluster["kind"]],
        "began": reading.local.stamp(first),
        "spread": f"{duration((last - first).total_seconds())} {within(joint(onsets))}",
        "what": listed(list(dict.fromkeys(f"{onset['machine']} {onset_word(onset['what'])}" for onset in onsets))),
        "reels": listed(list(dict.fromkeys(onset["reel"] for onset in onsets if onset["reel"]))) or say("not recorded"),
        "incidents": list(dict.fromkeys(onset["incident"] for onset in onsets if onset["incident"])),
    }


def joint(onsets: Rows) -> float | None:
    """The ± of the span from the first onset to the last: the sum of both; None where either is not known."""
    first, last = onsets[0]["within_s"], onsets[-1]["within_s"]
    return None if first is None or last is None else first + last


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00")).replace(tzinfo=None)


def _not_known(found: Mapping[str, Any]) -> tuple[str, ...]:
    lines = []
    for row in found["names"]:
        if row["name"] is None and (row["exposure_s"] or row["count"]):
            events, air = counted(row["count"], "event"), hours(row["exposure_s"])
            lines.append(nameless(row["kind"], say("{events} and {hours} of air", events=events, hours=air)))
    lines += [
        say(
            "What a name that does not stand out hides: with few hours on air even a bad one has too few events to "
            "tell."
        ),
        say("Which of two names that go together is to blame, such as a reel and the only machine that played it."),
        say("Faults that no machine logs, and faults of machines that were not rolling."),
    ]
    return tuple(lines)
