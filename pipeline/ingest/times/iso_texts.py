"""Reads one ISO 8601 time of any spelling, the rarer ones included, through Python's own datetime."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

MIDNIGHT_AT_THE_END = re.compile(r"(.*[T ])24(:?00(?::?00(?:[.,]0+)?)?)?(Z|[+-][0-9:]+)?", re.ASCII)
SPELLED = re.compile(r"[0-9TtWZ:.,+ -]+", re.ASCII)
# fromisoformat takes both the frames of 10:00:00:30 and the half minute of 10:00.5 for a fraction of a second.
MISREAD = re.compile(r".{8,11}?[^0-9](?:[0-9]{2}(?::?[0-9]{2})?[.,]|[0-9]{2}:[0-9]{2}:[0-9]{2}:).*", re.ASCII)
MICROSECOND = timedelta(microseconds=1)
FRACTION = re.compile(r"[.,]([0-9]+)", re.ASCII)


def parse_iso(text: str) -> datetime:
    """What ``datetime.fromisoformat`` makes of ``text``, and 24:00 as the next midnight; aware with an offset.

    Frames after the second, and fractions of a minute or an hour, are refused.

    Raises:
        ValueError, OverflowError: it is no such time, or beyond the year 9999.
    """
    # fromisoformat overlooks a NUL at the end, and takes any letter for the T.
    if not SPELLED.fullmatch(text) or MISREAD.fullmatch(text):
        raise ValueError(text[:60])
    end_of_day = MIDNIGHT_AT_THE_END.fullmatch(text)
    if end_of_day is None:
        return datetime.fromisoformat(text)
    day, rest, offset = end_of_day.groups()
    return datetime.fromisoformat(f"{day}00{rest or ''}{offset or ''}") + timedelta(days=1)


def digits_of_second(text: str) -> int:
    """Digits written of the second's fraction, at most 6."""
    fraction = FRACTION.search(text)
    return min(len(fraction[1]), 6) if fraction else 0


def rare_iso(text: str) -> tuple[date | None, int | None, int | None, int]:
    """Day, microseconds from midnight, offset in microseconds and digits of ``text``; null where it is no such time.

    A date alone has no time of day; 24:00 counts from the midnight before it.
    """
    try:
        wall = parse_iso(text)
        is_end = MIDNIGHT_AT_THE_END.fullmatch(text) is not None
        day = wall.date() - timedelta(days=1) if is_end else wall.date()
    except (ValueError, OverflowError):
        return None, None, None, 0
    midnight = datetime(day.year, day.month, day.day)  # noqa: DTZ001 - a wall time
    clock_us = None if _is_date(text) else (wall.replace(tzinfo=None) - midnight) // MICROSECOND
    offset = wall.utcoffset()
    return day, clock_us, None if offset is None else offset // MICROSECOND, digits_of_second(text)


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
