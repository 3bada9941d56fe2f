"""The page on what comes back: every name against luck, and faults that began together on several machines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from pipeline.render.index import period
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.words import chance, counted, duration, figure, hours, listed, spoken, times, within

MOST_LINKS = 12
MOST_BEHIND = 40
MOST_CLUSTERS = 200
MOST_ROWS = 12  # of kinds with many names, those least likely by luck are printed one by one
IN_ORDER = "hour of the local day"  # printed whole and by the clock
TITLES = {
    "machine": "Machine on air",
    "pair": "Pair",
    "reel": "Reel",
    "recording machine": "Machine that recorded the reel",
    "head serial": "Head serial",
    "hour of the local day": "Hour of the local day",
}
LEADS = {
    "machine": "The machine left or lost.",
    "pair": "The registered pair of that machine.",
    "reel": "The reel booked on that machine for that transmission.",
    "recording machine": "Where the label of that reel says it was recorded: a fault may be on the tape.",
    "head serial": "The head fitted last before, wherever its serial goes; before the first fitting none is known.",
    "hour of the local day": "The hour on the wall in which the event began: heat, mains, shifts, habits.",
}
LEFT_OUT = {
    "machine": "air was on standby, which belongs to no machine",
    "pair": "the register names no partner, or air was on standby",
    "reel": "no reel is booked",
    "recording machine": "no label says where the reel was recorded",
    "head serial": "no fitting of a head is logged before",
}


def pattern_sheet(reading: Reading) -> Sheet:
    """The sheet "What comes back", from the part ``patterns`` of the figures."""
    found = reading.figures["patterns"]
    began = {row["incident"]: reading.local.minute(row["started_at_utc"]) for row in reading.incidents}
    behind = [_linked(row) for row in ordered(found["names"]) if row["which"]]
    clusters = found["coincidences"]["clusters"]
    context = {
        "told": [*_opening(found), *together(found), *again(found)],
        "found": found,
        "kinds": [kind_table(found, kind) for kind in TITLES],
        "behind": behind[:MOST_BEHIND],
        "behind_count": len(behind),
        "began": began.__getitem__,
        "tests": found["coincidences"]["kinds"],
        "clusters": [_cluster(reading, cluster) for cluster in clusters[-MOST_CLUSTERS:]],
        "clusters_count": len(clusters),
        "window": duration(found["coincidences"]["window_s"]),
    }
    return Sheet(
        "patterns.html", "patterns.html.j2", "What comes back", period(reading.figures), context, _not_known(found)
    )


def _opening(found: Mapping[str, Any]) -> list[str]:
    if not found["events"]:
        return ["No interruption and no protect switch is logged, so nothing can come back."]
    called = [row for row in ordered(found["names"]) if is_called(row, found["level"])]
    start = (
        f"{counted(found['events'], 'event')} in {hours(found['air_s'])} of air: interruptions, and protect switches "
        "outside them, each once. If all air were alike, each name below would have its share of them by its own hours "
        f"on air. {counted(found['comparisons'], 'comparison')} were made in all, and the adjusted p allows for that "
        "number."
    )
    if called:
        return [start, *(call(row) for row in called)]
    return [
        f"{start} No name stands out: the highest of so many names easily has as many events as any here by luck alone."
    ]


def _linked(row: Row) -> Row:
    return {**row, "which": row["which"][:MOST_LINKS], "unlinked": max(0, len(row["which"]) - MOST_LINKS)}


def is_called(row: Mapping[str, Any], level: float) -> bool:
    """Whether the adjusted p of a name or a kind of coincidence is below the level."""
    return row["adjusted_p"] is not None and row["adjusted_p"] < level


def call(row: Mapping[str, Any]) -> str:
    """What stands out, in a sentence."""
    share = "all in one incident" if row["incidents"] == 1 else f"in {spoken(row['incidents'], 'incident')}"
    text = (
        f"Stands out: {row['kind']} {row['name']}, with {counted(row['count'], 'event')} {share}, where its "
        f"{hours(row['exposure_s'])} on air would bring {figure(row['expected'])} "
        f"(adjusted {chance(row['adjusted_p'])})."
    )
    return f"{text} One bad evening is no pattern yet." if row["incidents"] == 1 else text


def together(found: Mapping[str, Any]) -> list[str]:
    """What the coincidences say, a sentence a kind."""
    window = duration(found["coincidences"]["window_s"])
    lines = []
    for test in found["coincidences"]["kinds"]:
        if test["p"] is None:
            lines.append(f"No {test['kind']} ever ran well together.")
            continue
        verdict = "more than luck easily gives" if is_called(test, found["level"]) else "no more than luck easily gives"
        lines.append(
            f"On {test['kind']}, faults {times(test['count'])} began within {window} of each other, where luck would "
            f"bring at most {figure(test['expected'])} such coincidences: {verdict} "
            f"(adjusted {chance(test['adjusted_p'])})."
        )
    return lines


def again(found: Mapping[str, Any]) -> list[str]:
    """Reels that were booked in more than one coincidence, in a sentence; nothing where there is none."""
    played = Counter(
        reel
        for cluster in found["coincidences"]["clusters"]
        for reel in sorted({onset["reel"] for onset in cluster["onsets"] if onset["reel"]})
    )
    names = [f"{reel} ({count} times)" for reel, count in sorted(played.items()) if count > 1]
    return [f"Booked in more than one of these: {listed(names)}."] if names else []


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
        "title": TITLES[kind],
        "lead": LEADS[kind],
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


def _cluster(reading: Reading, cluster: Mapping[str, Any]) -> Row:
    onsets = [{**onset, "at_utc": _instant(onset["at"])} for onset in cluster["onsets"]]
    first, last = onsets[0]["at_utc"], onsets[-1]["at_utc"]
    return {
        "kind": cluster["kind"],
        "began": reading.local.stamp(first),
        "spread": f"{duration((last - first).total_seconds())} {within(joint(onsets))}",
        "what": listed(list(dict.fromkeys(f"{onset['machine']} {onset['what']}" for onset in onsets))),
        "reels": listed(list(dict.fromkeys(onset["reel"] for onset in onsets if onset["reel"]))) or "not recorded",
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
            size = f"{counted(row['count'], 'event')} and {hours(row['exposure_s'])} of air"
            lines.append(f"The {row['kind']} of {size}: {LEFT_OUT[row['kind']]}. Not compared with anything.")
    lines += [
        "What a name that does not stand out hides: with few hours on air even a bad one has too few events to tell.",
        "Which of two names that go together is to blame, such as a reel and the only machine that played it.",
        "Faults that no machine logs, and faults of machines that were not rolling.",
    ]
    return tuple(lines)
