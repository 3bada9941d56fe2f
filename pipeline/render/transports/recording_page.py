"""The page "Player, recorder or reel": whose are the faults that are seen at playback?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import say, whole
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.transports.recording_chart import recording_ratios
from pipeline.render.transports.recording_counts import counted_words, not_known
from pipeline.render.transports.recording_ratios import NAMES_SAID, WIDEST, is_too_wide, ratio_text
from pipeline.render.transports.recording_words import opening, recordist_word
from pipeline.render.words import figure

MOST_ROWS = 24
MOST_ACROSS = 8  # players and recorders of the two-way table; the rest is summed
REST = "all others"


def recording_sheets(reading: Reading) -> Iterator[Sheet]:
    """The sheet, from the part ``transports.recording`` of the figures."""
    found = reading.figures["transports"]["recording"]
    context = {
        "told": opening(found),
        "found": found,
        "counted_words": counted_words(found["faults"]) if found["faults"]["played_h"] else [],
        "chart": recording_ratios(found, "recording"),
        "crossed": crossed(found["cells"]),
        "players": shown(found["players"]),
        "recorders": shown(found["recorders"]),
        "recordists": shown(found["recordists"]),
        "groups": found["inseparable"][:MOST_ROWS],
        "left_out": {
            kind: max(0, len(found[kind]) - MOST_ROWS) for kind in ("players", "recorders", "recordists", "inseparable")
        },
        "has_too_wide": any(is_too_wide(one) for one in _ratios(found)),
        "widest": WIDEST,
        "ratio_text": ratio_text,
        "names_said": NAMES_SAID,
        "recordist_word": recordist_word,
        "place_text": place_text,
        "plain": plain,
        "rest": REST,
        "most_across": MOST_ACROSS,
    }
    yield Sheet(
        "recording.html", "recording.html.j2", say("Player, recorder or reel"), period(reading.figures), context,
        not_known(found) if found["faults"]["played_h"] else (),
    )  # fmt: skip


def place_text(count: int, played_h: float) -> str:
    """Faults and hours in one place of a table, such as "3 / 104"."""
    return f"{whole(count)} / {figure(played_h)}"


def _ratios(found: Mapping[str, Any]) -> Iterator[Mapping[str, Any] | None]:
    """Every ratio that the tables print."""
    for kind in ("players", "recorders", "recordists", "reels", "inseparable"):
        for row in found[kind]:
            yield from (row["ratio"], row.get("evened"), (row.get("own") or {}).get("ratio"))


def shown(rows: Sequence[Row]) -> Rows:
    """At most 24 rows: those that are named, then those with most hours; printed in order of name as they came."""
    order = sorted(range(len(rows)), key=lambda place: (not rows[place]["is_named"], -rows[place]["exposure_h"], place))
    return [rows[place] for place in sorted(order[:MOST_ROWS])]


def crossed(cells: Sequence[Mapping[str, Any]]) -> Row:
    """The two-way table: recorders across, players down, faults and hours in each place; the rest of both summed.

    ``rows``: a player, and a place a recorder (None: they never met), with its sum; the last row is the sum of all.
    """
    down, across = (_most(cells, name) for name in ("player", "recorder"))
    placed: dict[tuple[str, str], list[float]] = {}
    for cell in cells:
        row = cell["player"] if cell["player"] in down else REST
        column = cell["recorder"] if cell["recorder"] in across else REST
        for key in ((row, column), (row, ""), ("", column), ("", "")):
            sums = placed.setdefault(key, [0, 0.0])
            sums[0] += cell["count"]
            sums[1] += cell["exposure_h"]
    columns = [*across, *([REST] if any(key[1] == REST for key in placed) else [])]
    lines = [*down, *([REST] if any(key[0] == REST for key in placed) else []), ""]
    return {
        "columns": columns,
        "rows": [
            {
                "player": line,
                "places": [placed.get((line, column)) for column in columns],
                "sum": placed.get((line, "")),
            }
            for line in lines
        ],
    }


def _most(cells: Sequence[Mapping[str, Any]], name: str) -> list[str]:
    hours: dict[str, float] = {}
    for cell in cells:
        hours[cell[name]] = hours.get(cell[name], 0.0) + cell["exposure_h"]
    return sorted(sorted(hours, key=lambda one: (-hours[one], one))[:MOST_ACROSS])
