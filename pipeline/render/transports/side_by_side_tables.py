"""Rows of the manager's tables on duty, work and rates, in register order and bounded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.transports.side_by_side_words import of_measure, scatter_note
from pipeline.render.words import counted, figure

MOST_ROWS = 60
MEASURES = ("air", "protect")


def rate_tables(reading: Reading, machines: Rows) -> Row:
    """What the template needs of the parts ``duty`` and ``rates``: rows in the order of ``machines``."""
    duty, rates = reading.figures["transports"]["duty"], reading.figures["transports"]["rates"]
    order = [machine["machine"] for machine in machines]
    duties = _in_order(duty["machines"], order)
    found: Row = {"duty_rows": duties[:MOST_ROWS], "duty_more": _left_out(duties), "duty_mean": duty["room"]["mean"]}
    found |= {"duty_count": duty["room"]["machines_count"], "found": rates}
    for name in MEASURES:
        measure = of_measure(rates, name)
        rows = _in_order(measure["machines"], order)
        detailed = [row for row in rows if row["evened"] is not None or row["standardised"] is not None] or rows
        found[name] = {
            "room": measure["room"],
            "rows": detailed[:MOST_ROWS],
            "more": _left_out(rows, detailed[:MOST_ROWS]),
            "ages": measure["classes"]["ages"],
            "parts": measure["classes"]["parts"],
            "scatter": scatter_note(measure, rates["level"]),
            "unplaced": _unplaced(detailed),
        }
    return found


def _in_order(rows: Sequence[Mapping[str, Any]], order: Sequence[str]) -> Rows:
    place = {name: at for at, name in enumerate(order)}
    return sorted((dict(row) for row in rows), key=lambda row: (place.get(row["machine"], len(place)), row["machine"]))


def _left_out(rows: Rows, shown: Rows | None = None) -> str:
    """A sentence on the rows not printed; empty where all are."""
    printed = len(rows[:MOST_ROWS] if shown is None else shown)
    if printed == len(rows):
        return ""
    how = "in register order" if shown is None else "those with most hours"
    return f" Printed are {printed} of {counted(len(rows), 'transport')}, {how}; figures.json has them all."


def _unplaced(rows: Rows) -> int:
    """Events that fall in no class of work their machine had hours in."""
    return sum(row["count"] - row["placed_count"] for row in rows if row["placed_count"] is not None)


def months_words(more: float | None) -> str:
    """How many more months of such hours it takes, in words."""
    if more is None:
        return "not known"
    return "none" if more == 0 else figure(more)
