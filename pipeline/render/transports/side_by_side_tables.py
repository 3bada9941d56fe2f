"""Rows of the manager's tables on duty, work and rates, in register order and bounded."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.language import say, say_counted, whole
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.transports.side_by_side_measures import of_measure
from pipeline.render.transports.side_by_side_words import scatter_note
from pipeline.render.words import counted, figure, not_known

MOST_ROWS = 60
MEASURES = ("air", "protect")
# Classes of reel age as figures.json names them.
UNDER, OVER, ONE = re.compile(r"under (\d+) days"), re.compile(r"(\d+) days and over"), re.compile(r"(\d+) days")
BETWEEN = re.compile(r"(\d+) to (\d+) days")


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
            "ages": [{**row, "class": age_class(row["class"])} for row in measure["classes"]["ages"]],
            "parts": [{**row, "class": day_part(row["class"])} for row in measure["classes"]["parts"]],
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
    found = {"printed": whole(printed), "transports": counted(len(rows), "transport")}
    if shown is None:
        told = say("Printed are {printed} of {transports}, in register order; figures.json has them all.", **found)
    else:
        told = say("Printed are {printed} of {transports}, those with most hours; figures.json has them all.", **found)
    return f" {told}"


def _unplaced(rows: Rows) -> str:
    """A sentence on events that fall in no class of work their machine had hours in; empty where there are none."""
    count = sum(row["count"] - row["placed_count"] for row in rows if row["placed_count"] is not None)
    if not count:
        return ""
    told = say_counted("Left out: {n} event in no class of work.", "Left out: {n} events in no class of work.", count)
    return f" {told}"


def age_class(name: str) -> str:
    """A class of reel age of figures.json as the pages write it: "34 to 80 days", "90 days and over"."""
    if found := UNDER.fullmatch(name):
        return say_counted("under {n} day", "under {n} days", int(found[1]))
    if found := OVER.fullmatch(name):
        return say_counted("{n} day and over", "{n} days and over", int(found[1]))
    if found := BETWEEN.fullmatch(name):
        return say("{low} to {high} days", low=whole(int(found[1])), high=whole(int(found[2])))
    if found := ONE.fullmatch(name):
        return counted(int(found[1]), "day")
    return {"not known": not_known(), "any age": say("any age")}.get(name, name)


def day_part(name: str) -> str:
    """A part of the local day of figures.json as the pages write it: "06:00 to 12:00"."""
    low, _, high = name.partition(" to ")
    return say("{low} to {high}", low=low, high=high) if high else name


def months_words(more: float | None) -> str:
    """How many more months of such hours it takes, in words."""
    if more is None:
        return not_known()
    return say("none", about="months") if more == 0 else figure(more)
