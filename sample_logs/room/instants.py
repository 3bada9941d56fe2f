"""Instants as whole milliseconds since 1970 UTC, so that the truth is added up without rounding."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

ZONE = ZoneInfo("Europe/Stockholm")
DAY_STARTS = 6  # local hour
SECOND = 1000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def local(day: date, minutes: float) -> int:
    """The instant at a wall-clock time: minutes after local midnight of a day, which may run past 24 h."""
    days, rest = divmod(minutes, 24 * 60)
    wall = datetime(day.year, day.month, day.day, tzinfo=ZONE) + timedelta(days=days, minutes=rest)
    return (wall.astimezone(UTC) - _EPOCH) // timedelta(milliseconds=1)


def as_utc(at: int) -> datetime:
    """The instant as an aware UTC time."""
    return _EPOCH + timedelta(milliseconds=at)


def as_local(at: int) -> datetime:
    """The instant as an aware time in the room's zone."""
    return as_utc(at).astimezone(ZONE)


def stamp_utc(at: int) -> str:
    """ISO 8601 in UTC with a Z and three decimals."""
    return as_utc(at).strftime("%Y-%m-%dT%H:%M:%S.") + f"{at % SECOND:03d}Z"


def stamp_naive(at: int) -> str:
    """Wall-clock ISO 8601 without an offset; three decimals, none on the whole second."""
    text = as_local(at).strftime("%Y-%m-%dT%H:%M:%S")
    return text + (f".{at % SECOND:03d}" if at % SECOND else "")


def stamp_offset(at: int) -> str:
    """ISO 8601 on the wall clock with its offset and three decimals."""
    return as_local(at).isoformat(timespec="milliseconds")


def stamp_micros(at: int) -> str:
    """ISO 8601 in UTC with a Z and six decimals."""
    return as_utc(at).strftime("%Y-%m-%dT%H:%M:%S.") + f"{at % SECOND:03d}000Z"


def stamp_minute(at: int) -> str:
    """Wall-clock ISO 8601 to the minute without an offset, as bookings are typed; seconds where there are any."""
    spec = "%Y-%m-%dT%H:%M" if at % MINUTE == 0 else "%Y-%m-%dT%H:%M:%S"
    return as_local(at).strftime(spec)


def month_of(at: int) -> str:
    """The month, YYYY-MM, of the broadcast day that holds the instant."""
    wall = as_local(at)
    day = wall.date() if wall.hour >= DAY_STARTS else wall.date() - timedelta(days=1)
    return f"{day:%Y-%m}"


def month_start(month: str) -> int:
    """The instant at which a month begins."""
    return local(date.fromisoformat(f"{month}-01"), DAY_STARTS * 60)
