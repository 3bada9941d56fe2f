"""The page on pairs: do the two machines of a pair fail together more than luck, and what is left of protection."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.pattern_words import onset_word
from pipeline.render.patterns import again
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.transports.together_chart import share_lines
from pipeline.render.transports.together_numbers import once_in, share_with_limits
from pipeline.render.transports.together_returns import not_known, returning
from pipeline.render.transports.together_words import answer
from pipeline.render.words import duration, listed, within

NAME = "together.html"
MOST_PAIRS = 40
MOST_DOUBLES = 60


def together_sheets(reading: Reading) -> Iterator[Sheet]:
    """The sheet "Pairs together or apart", from the part ``transports.together`` of the figures."""
    found = reading.figures["transports"]["together"]
    pairs = in_order(reading, found["pairs"])
    shown = most_hours(pairs)
    began = {row["incident"]: reading.local.minute(row["started_at_utc"]) for row in reading.incidents}
    drawn = [row for row in shown if row["share"]["value"] is not None]
    context = {
        "told": answer(found),
        "found": found,
        "room": found["room"],
        "pairs": shown,
        "left_out": len(pairs) - len(shown),
        "chart": share_lines(drawn, found["room"]["share"]["value"], "shares") if drawn else None,
        "doubles": [_double(reading, double) for double in found["doubles"][-MOST_DOUBLES:]],
        "doubles_count": len(found["doubles"]),
        "reels": again(as_clusters(found["doubles"])),
        "returning": returning(found),
        "began": began.get,
        "once_in": once_in,
        "share_with_limits": share_with_limits,
        "window": duration(found["window_s"]),
        "plain": plain,
    }
    title = say("Pairs together or apart")
    yield Sheet(NAME, "together.html.j2", title, period(reading.figures), context, not_known(found))


def in_order(reading: Reading, pairs: Rows) -> Rows:
    """The pairs with their name in the register and kinds, by that name."""
    register = {row["machine"]: row for row in reading.site["register"]}
    rows: list[Row] = []
    for pair in pairs:
        lines = [register.get(machine, {}) for machine in pair["machines"]]
        kinds = list(dict.fromkeys(line["kind"] for line in lines if line.get("kind")))
        named = next((line["pair"] for line in lines if line.get("pair")), None)
        name = listed(pair["machines"])
        rows.append({**pair, "pair": named, "name": name, "kinds": listed(kinds) or say("not recorded")})
    return sorted(rows, key=lambda row: (row["pair"] or "", row["machines"]))


def most_hours(pairs: Rows) -> Rows:
    """The named pairs and those with most hours together, as many as a table holds, in the order given."""
    chosen = sorted(pairs, key=lambda row: (not row["is_named"], -row["shared_s"], row["machines"]))[:MOST_PAIRS]
    kept = {row["name"] for row in chosen}
    return [row for row in pairs if row["name"] in kept]


def as_clusters(doubles: Rows) -> Mapping[str, Any]:
    """The doubles in the shape in which ``again`` counts the reels of coincidences."""
    clusters = [{"onsets": [{"reel": reel} for reel in double["reels"]]} for double in doubles]
    return {"coincidences": {"clusters": clusters}}


def _double(reading: Reading, double: Row) -> Row:
    at_utc = datetime.fromisoformat(double["at"].replace("Z", "+00:00")).replace(tzinfo=None)
    return {
        **double,
        "began": reading.local.stamp(at_utc),
        "apart": f"{duration(double['apart_s'])} {within(double['within_s'])}",
        "what": _what(double),
        "neither": duration(double["neither_s"]),
    }


def _what(double: Row) -> str:
    """What began on which machines: said once where it was the same on all, with machines struck elsewhere."""
    kinds = list(dict.fromkeys(double["kinds"]))
    began = zip(double["machines"], double["kinds"], strict=True)
    told = listed([f"{machine} {onset_word(str(kind))}" for machine, kind in began])
    if len(kinds) == 1:
        told = say("{fault} on {machines}", fault=onset_word(str(kinds[0])), machines=listed(double["machines"]))
    if double["is_same_spot"]:
        told = say("{faults}, the same spot of both copies", faults=told)
    if double["elsewhere"]:
        told = say("{faults}; in the same seconds also {machines}", faults=told, machines=listed(double["elsewhere"]))
    return told
