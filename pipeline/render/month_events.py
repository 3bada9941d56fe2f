"""A month's events laid out by pair and day: what the strip on the month's sheet draws, and the table behind it.

A day without air is no calm day, and a day of which the logs say nothing is none either, so both are marked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from pipeline.render.language import say
from pipeline.render.reading import Reading, Row, Rows

KINDS = ("forced", "precaution", "unexplained", "healed", "other", "failed")
STANDBY = ("", "")
Name = tuple[str, str]  # a pair's two machines; a machine or a channel alone has no second


@dataclass(frozen=True)
class Day:
    """One row's day: air and unknown seconds, how many events of each kind, and whether it is after the data end."""

    air_s: float
    unknown_s: float
    kinds: Mapping[str, int]
    is_beyond: bool

    @property
    def is_off(self) -> bool:
        """Whether there was no air time and so nothing that could have happened."""
        return self.air_s <= 0 and not self.kinds


@dataclass(frozen=True)
class EventRow:
    """A row of the strip: its name and its days, in order; every day of the month is there.

    ``has_air``: whether air time is counted for it at all, which of standby it is not.
    """

    name: str
    days: Mapping[date, Day]
    has_air: bool = True

    def count(self, kind: str) -> int:
        """Events of a kind in the month."""
        return sum(day.kinds.get(kind, 0) for day in self.days.values())

    @property
    def air_days(self) -> int:
        """Days with air time."""
        return sum(day.air_s > 0 for day in self.days.values())

    @property
    def unknown_days(self) -> int:
        """Days with air time of which the logs say nothing."""
        return sum(day.unknown_s > 0 for day in self.days.values())

    @property
    def unknown_s(self) -> float:
        """Seconds of air time of which the logs say nothing."""
        return sum(day.unknown_s for day in self.days.values())


def kinds_of(part: Row) -> tuple[str, ...]:
    """The marks of one part of an incident, none twice; a failed demand is marked beside what it was.

    A part is a protect switch of its kind, or an interruption that healed, or another interruption (that began on
    standby, or that a planned switch or a return ended). A rescue by another source is a failed demand and no more.
    """
    is_failed = part["recovery_no"] is None or (part["is_demand"] and not part["is_met"] and not part["is_healed"])
    failed = ("failed",) if is_failed else ()
    if part["recovery_no"] is None:
        return failed
    if part["kind"] in KINDS[:3]:
        return (part["kind"], *failed)
    return ("healed" if part["is_healed"] else "other", *failed)


def kind_name(kind: str) -> str:
    """A kind of mark in words."""
    return {
        "forced": say("forced switch"),
        "precaution": say("switch as a precaution"),
        "unexplained": say("unexplained switch"),
        "healed": say("interruption, healed"),
        "other": say("other interruption"),
        "failed": say("demand failed"),
    }[kind]


def event_rows(reading: Reading, month: str, parts: Iterable[Row]) -> list[EventRow]:
    """The rows of the month: each pair with air time or an event, by name; events that began on standby come last."""
    days = [row for row in reading.site["month_days"] if row["month"] == month]
    within = {row["day"] for row in days}
    air = {(_name(row), row["day"]): row for row in reading.site["day_air"] if row["day"] in within}
    counts = _counted(reading, days, parts)
    names = {name for name, _ in (*air, *counts)}
    ordered = sorted(names - {STANDBY}) + [STANDBY] * (STANDBY in names)
    beyond = {row["day"] for row in days if reading.as_of is not None and row["started_at_utc"] > reading.as_of}

    def day_of(name: Name, day: date) -> Day:
        row, kinds = air.get((name, day)), dict(counts.get((name, day), Counter()))
        return Day(row["air_s"] if row else 0.0, row["unknown_s"] if row else 0.0, kinds, day in beyond)

    return [
        EventRow(row_name(name), {row["day"]: day_of(name, row["day"]) for row in days}, name != STANDBY)
        for name in ordered
    ]


def row_name(name: Name) -> str:
    """A row's name as it is printed."""
    return say("standby") if name == STANDBY else " + ".join(part for part in name if part)


def _name(row: Row) -> Name:
    return row["row_name"], row["second_name"] or ""


def _counted(reading: Reading, days: Rows, parts: Iterable[Row]) -> dict[tuple[Name, date], Counter[str]]:
    partners = {row["machine"]: row["partner"] for row in reading.site["partners"]}
    counts: dict[tuple[Name, date], Counter[str]] = {}
    for part in parts:
        day = _day_of(days, part["started_at_utc"])
        if day is not None:
            counts.setdefault((_row_of(part, partners), day), Counter()).update(kinds_of(part))
    return counts


def _row_of(part: Row, partners: Mapping[str, str]) -> Name:
    if not partners:
        return part["channel"], ""
    machine: Any = part["machine"]
    if machine is None:
        return STANDBY
    first, *second = sorted({machine, partners.get(machine, machine)})
    return first, second[0] if second else ""


def _day_of(days: Rows, at_utc: datetime) -> date | None:
    found: date | None = next(
        (row["day"] for row in days if row["started_at_utc"] <= at_utc < row["ended_at_utc"]), None
    )
    return found
