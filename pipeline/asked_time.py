"""Reads a time as a person types it after a command: the site's own unless an offset follows, and never one of two."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from pipeline.errors import QuestionError

SHAPE = re.compile(
    r"(?P<date>\d{4}-\d\d-\d\d)[ T](?P<minute>\d\d:\d\d)(?P<second>:\d\d(?:[.,]\d{1,9})?)?"
    r" ?(?P<offset>Z|[+-]\d\d:?\d\d)?",
    re.ASCII,
)
ALLOWED = "Expected a date and a time such as 2031-03-09 21:04 or 2031-03-09 21:04:07"
SHOWN = 60  # characters of what was typed


@dataclass(frozen=True)
class Asked:
    """The minute or the second that was named, [started, ended) in naive UTC; what is finer is left out."""

    started_at_utc: datetime
    ended_at_utc: datetime


def read_asked(text: str, zone: ZoneInfo) -> Asked:
    """The minute or second that ``text`` names, in ``zone`` unless an offset or Z follows.

    Raises:
        QuestionError: it is no time; the clocks of the zone never showed it; or they showed it twice.
    """
    shown = "".join(letter for letter in text.strip() if letter.isprintable())[:SHOWN]
    no_time = QuestionError(
        f'"{shown}" is not a time. {ALLOWED}, in {zone.key} unless an offset such as +01:00 or Z follows.'
    )
    found = SHAPE.fullmatch(text.strip())
    if found is None:
        raise no_time
    try:
        wall = datetime.fromisoformat(f"{found['date']} {found['minute']}{(found['second'] or '')[:3]}")
        offset = found["offset"]
        started = _with_offset(wall, offset) if offset else _of_zone(wall, zone, shown)
        return Asked(started, started + timedelta(seconds=1 if found["second"] else 60))
    except (ValueError, OverflowError):
        raise no_time from None


def _with_offset(wall: datetime, offset: str) -> datetime:
    return datetime.fromisoformat(f"{wall.isoformat()}{offset}").astimezone(UTC).replace(tzinfo=None)


def _of_zone(wall: datetime, zone: ZoneInfo, shown: str) -> datetime:
    readings = [wall.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    first, second = (reading.astimezone(UTC) for reading in readings)
    if first == second:
        return first.replace(tzinfo=None)
    if first.astimezone(zone).replace(tzinfo=None) != wall:
        raise QuestionError(
            f'"{shown}" never was in {zone.key}: the clocks were put forward over it. Name a time before or after it.'
        )
    offsets = " or ".join(f"{reading:%z}"[:3] + ":" + f"{reading:%z}"[3:5] for reading in readings)
    raise QuestionError(
        f'"{shown}" was twice in {zone.key}: the clocks were put back over it. Write which one is meant: put {offsets}'
        " behind it."
    )
