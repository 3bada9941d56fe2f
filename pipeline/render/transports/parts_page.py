"""The page on parts with a life: which kinds wear out, which fail early, and what those in use may still do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from pipeline.render.index import period
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet, slug
from pipeline.render.transports.parts_charts import life_chart
from pipeline.render.transports.parts_words import (
    answer,
    life_hours,
    not_known,
    price,
    reading_of_shape,
    share_of,
    why_no_fit,
)

MOST_CHARTS = 4
MOST_IN_USE = 60
NAME, TITLE = "parts.html", "Parts with a life"


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
        "life_hours": life_hours,
        "share_of": share_of,
        "reading_of_shape": reading_of_shape,
        "price": price,
    }
    yield Sheet(NAME, "parts.html.j2", TITLE, period(reading.figures), context, not_known(found))


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
