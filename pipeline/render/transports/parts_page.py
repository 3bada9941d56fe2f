"""The page on parts with a life: which kinds wear out, which fail early, and what those in use may still do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import say, whole
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet, slug
from pipeline.render.transports.parts_charts import life_chart
from pipeline.render.transports.parts_missing import not_known
from pipeline.render.transports.parts_numbers import kind_word, life_hours, price, share_of
from pipeline.render.transports.parts_words import answer, reading_of_shape, why_no_fit
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.words import figure

MOST_CHARTS = 4
MOST_IN_USE = 60
NAME = "parts.html"


def parts_sheets(reading: Reading) -> Iterator[Sheet]:
    """The one sheet, from the part ``transports.parts`` of the figures; it is made also where no fitting is logged."""
    found = reading.figures["transports"]["parts"]
    kinds = found["kinds"]
    in_use = in_use_rows(kinds)
    charts = [
        life_chart(kind, f"life-{number}-{slug(kind['kind'])}")
        for number, kind in enumerate(kind for kind in kinds if kind["failed_count"])
        if number < MOST_CHARTS
    ]
    context = {
        "told": answer(found),
        "found": found,
        "kinds": kinds,
        "fitted": [kind for kind in kinds if kind["weibull"]],
        "without": why_no_fit(kinds),
        "in_use": in_use,
        "in_use_count": sum(kind["running_count"] for kind in kinds),
        "priced": [kind for kind in kinds if kind["money"]],
        "charts": charts,
        "failures": [_dated(reading, row) for row in reversed(found["failures"])],
        "part_kind": kind_word,
        "of_all": of_all,
        "or_unreached": or_unreached,
        "plain": plain,
        "life_hours": life_hours,
        "share_of": share_of,
        "reading_of_shape": reading_of_shape,
        "price": price,
    }
    yield Sheet(NAME, "parts.html.j2", say("Parts with a life"), period(reading.figures), context, not_known(found))


def of_all(part: int, all_of_them: int) -> str:
    """A part of a count, such as "1 of 1,038"."""
    return say("{part} of {whole}", part=whole(part), whole=whole(all_of_them))


def or_unreached(value: float | None) -> str:
    """A number to three figures that count; None is "not reached"."""
    return say("not reached") if value is None else figure(value)


def in_use_rows(kinds: Rows) -> Rows:
    """The parts in use, kind by kind and machine by machine, those of which something is told first.

    Bounded: the ``MOST_IN_USE`` least sure to last the next 100 h, then those with most hours, are kept.
    """
    rows = [row for kind in kinds for row in kind["running"]]
    places = sorted(range(len(rows)), key=lambda place: _least_sure(rows[place]))[:MOST_IN_USE]
    return sorted((rows[place] for place in sorted(places)), key=lambda row: row["basis"] is None)


def _least_sure(row: Mapping[str, Any]) -> tuple[bool, float]:
    """Parts by their chance to last the next 100 h, those of which nothing is known last."""
    chance = row["last_100_h"]
    return (True, -row["life_h"]) if chance is None else (False, chance["value"])


def _dated(reading: Reading, row: Mapping[str, Any]) -> Row:
    ended = datetime.fromisoformat(row["ended_at_utc"].removesuffix("Z"))
    return {**row, "ended": reading.local.minute(ended)}
