"""Air time by the hour of the local day, exact through changes of the clock.

The database knows no zones, and a night in which an hour comes twice must give that hour twice its seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

HOURS = 24
SECOND_US = 1_000_000
HOUR_US = 3600 * SECOND_US
DAY_US = HOURS * HOUR_US
STEP_US = 6 * DAY_US  # how often a zone is looked at
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST, LAST = datetime(2, 1, 1, tzinfo=UTC), datetime(9998, 12, 1, tzinfo=UTC)  # an offset needs room around it
Instants = NDArray[np.int64]  # microseconds since 1970, UTC


def hour_name(hour: int) -> str:
    """ "20:00 to 21:00" from 20."""
    return f"{hour:02d}:00 to {hour + 1:02d}:00"


def hour_of(at_utc: datetime, zone: ZoneInfo) -> int:
    """The hour, 0 to 23, that a clock on the wall shows at the naive UTC instant."""
    at_us = (at_utc.replace(tzinfo=UTC) - EPOCH) // timedelta(microseconds=1)
    return (at_us + offset_us(at_us, zone)) % DAY_US // HOUR_US


def microseconds_by_hour(spans: pl.DataFrame, zone: ZoneInfo) -> list[int]:
    """How much of the half-open ``spans`` (started_at_utc, ended_at_utc; naive UTC) falls in each local hour.

    Microseconds: 24 whole numbers that add up to the length of all spans. An hour that comes twice counts twice, one
    that the clock skips has none. Two changes of a zone that cancel within six days would go unseen: the zone database
    has none since 1970, the shortest being a summer time of seven days less an hour (Recife, October 2000).
    """
    if spans.is_empty():
        return [0] * HOURS
    starts, ends = (
        spans[name].cast(pl.Datetime("us")).to_physical().to_numpy() for name in ("started_at_utc", "ended_at_utc")
    )
    total = np.zeros(HOURS, dtype=np.int64)
    for begins, stops, offset in steady_stretches(int(starts.min()), int(ends.max()), zone):
        low, high = np.clip(starts, begins, stops) + offset, np.clip(ends, begins, stops) + offset
        total += [int((_until(high, hour) - _until(low, hour)).sum()) for hour in range(HOURS)]
    return [int(value) for value in total]


def _until(wall: Instants, hour: int) -> Instants:
    """Microseconds of the hour ``hour`` of every day from the epoch to the wall time."""
    whole: Instants = wall // DAY_US * HOUR_US + np.clip(wall % DAY_US - hour * HOUR_US, 0, HOUR_US)
    return whole


def steady_stretches(begins: int, stops: int, zone: ZoneInfo) -> Iterator[tuple[int, int, int]]:
    """The stretches of [begins, stops) in which the zone keeps one offset: begin, end and offset in microseconds."""
    at, offset = begins, offset_us(begins, zone)
    since = begins
    while at < stops:
        after = min(at + STEP_US, stops)
        if offset_us(after, zone) != offset:
            change = _change(at, after, zone)
            yield since, change, offset
            since, offset = change, offset_us(change, zone)
        at = after
    if since < stops:
        yield since, stops, offset


def _change(low: int, high: int, zone: ZoneInfo) -> int:
    """The first whole second in (low, high] with the offset of ``high``, where that of ``low`` is another."""
    new = offset_us(high, zone)
    below, above = low // SECOND_US, -(-high // SECOND_US)
    while above - below > 1:
        middle = (below + above) // 2
        below, above = (below, middle) if offset_us(middle * SECOND_US, zone) == new else (middle, above)
    return min(above * SECOND_US, high)


def offset_us(at_us: int, zone: ZoneInfo) -> int:
    """Local minus UTC at an instant, both in microseconds; before the year 2 and after 9998 as at that year's edge."""
    at = min(max(EPOCH + timedelta(microseconds=at_us), FIRST), LAST)
    offset = at.astimezone(zone).utcoffset() or timedelta()
    return offset // timedelta(microseconds=1)
