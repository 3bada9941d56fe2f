"""Writes the numbers, moments and spans of a sheet as text: as few digits as say the same, to the millisecond."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta

DAY_MS = 86_400_000
# A time of more than 20,000 days (until October 1954) has not passed on any video recorder: it is a date.
LONGEST_DAYS = 20_000

MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2})(\.[0-9]+)?")


def number_text(written: str) -> str:
    """A number with the 15 digits that sheets keep, without ``.0`` behind a whole one.

    Raises:
        ValueError: it is no number.
    """
    if written.isdecimal() and len(written) < 16:
        return written.lstrip("0") or "0"
    number = float(written)
    text = f"{number:.15g}"
    if "e" in text and number.is_integer():
        return f"{number:.0f}"
    return "0" if text == "-0" else text


def passed_text(ms: int) -> str:
    """Milliseconds as ``hh:mm:ss``, with a fraction where needed; hours go on above 24."""
    seconds, fraction = divmod(abs(ms), 1000)
    tail = f".{fraction:03d}" if fraction else ""
    return f"{'-' if ms < 0 else ''}{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{tail}"


def moment_text(at: datetime) -> str:
    """ISO 8601, without its time at midnight, since a sheet does not tell a day from its midnight."""
    if at.time() == time():
        return at.date().isoformat()
    return at.isoformat(timespec="milliseconds" if at.microsecond else "seconds")


def tidy_moment(written: str) -> str:
    """An ISO 8601 moment as a workbook may hold it, to the millisecond, and without its time at midnight."""
    parts = MOMENT.fullmatch(written)
    if parts is None:
        return written
    try:
        at = datetime.fromisoformat(parts[1]) + timedelta(milliseconds=round(float(parts[2] or 0) * 1000))
    except (ValueError, OverflowError):
        return written
    return moment_text(at)
