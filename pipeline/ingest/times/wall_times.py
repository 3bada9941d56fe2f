"""Puts the wall times of a zone on the one axis of UTC, a whole day at a time where its clocks do not change."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

FIRST, LAST = datetime.min, datetime.max  # noqa: DTZ901 - walls have no zone
WALL_RULE = pl.Schema({"second": pl.Datetime("us"), "shift_s": pl.Int64(), "again_s": pl.Int64()})


def place_walls(walls: pl.Series, zone: ZoneInfo) -> pl.DataFrame:
    """For each naive local time of ``walls``: ``at_utc``, ``is_ambiguous``, ``is_skipped``.

    Of the two instants of a time that comes twice in autumn the first is meant, and ``is_ambiguous`` is true. A time
    that spring leaves out has no instant, and ``is_skipped`` is true; one beyond the years 1 to 9999 has neither.
    """
    wall = walls.cast(pl.Datetime("us")).alias("wall")
    frame = pl.select(pl.when(wall.is_between(FIRST, LAST)).then(wall).alias("wall"))
    frame = frame.with_columns(pl.col("wall").dt.date().alias("day"))
    frame = frame.with_columns(offsets_of_days(frame["day"], zone).alias("shift_s"))
    is_odd = (frame["wall"].is_not_null() & frame["shift_s"].is_null()).alias("is_odd")
    if is_odd.any():
        frame = _with_odd_days(frame, is_odd, zone)
    else:
        frame = frame.with_columns(pl.col("shift_s").alias("again_s"))
    shift, again = pl.col("shift_s"), pl.col("again_s")
    is_skipped = (again > shift).fill_null(value=False)
    at = (pl.col("wall").cast(pl.Int64) - shift * 1_000_000).cast(pl.Datetime("us"))
    return frame.select(
        pl.when(~is_skipped).then(at).alias("at_utc"),
        (again < shift).fill_null(value=False).alias("is_ambiguous"),
        is_skipped.alias("is_skipped"),
    )


def _with_odd_days(frame: pl.DataFrame, is_odd: pl.Series, zone: ZoneInfo) -> pl.DataFrame:
    """``frame`` with the offsets of both passes, second by second on days of a clock change: at most 86,400 a day."""
    frame = frame.with_columns(pl.when(is_odd).then(pl.col("wall").dt.truncate("1s")).alias("second"))
    seconds = frame["second"].drop_nulls().unique().to_list()
    rules = pl.DataFrame([(second, *_offsets(second, zone)) for second in seconds], schema=WALL_RULE, orient="row")
    both = frame.join(rules, on="second", how="left", suffix="_odd", maintain_order="left")
    return both.with_columns(
        pl.coalesce("shift_s", "shift_s_odd").alias("shift_s"), pl.coalesce("again_s", "shift_s").alias("again_s")
    )


def _offsets(wall: datetime, zone: ZoneInfo) -> tuple[int | None, int | None]:
    """Seconds east of UTC in the first and in the second pass of ``wall``."""
    first, again = _east(wall, zone), _east(wall.replace(fold=1), zone)
    return (first, again) if first is not None and again is not None else (None, None)


def _east(wall: datetime, zone: ZoneInfo) -> int | None:
    try:
        offset = wall.replace(tzinfo=zone).utcoffset()
        if offset is None or offset.microseconds:
            return None
        _ = wall - offset
    except OverflowError:
        return None
    return offset.days * 86400 + offset.seconds


def offsets_of_days(days: pl.Series, zone: ZoneInfo) -> pl.Expr:
    """Seconds east of UTC on each of ``days``, from a column ``day``; null where the clock changes in the day."""
    known = {day: offset_of_day(day, zone) for day in days.drop_nulls().unique().to_list()}
    return looked_up("day", {day: seconds for day, seconds in known.items() if seconds is not None})


def looked_up(column: str, known: Mapping[Any, int]) -> pl.Expr:
    """What ``known`` has for the values of ``column``; null for others."""
    if not known:
        return pl.lit(None, pl.Int64)
    return pl.col(column).replace_strict(list(known), list(known.values()), default=None, return_dtype=pl.Int64)


@lru_cache(maxsize=100_000)
def offset_of_day(day: date, zone: ZoneInfo) -> int | None:
    """Seconds east of UTC all that local day, or None if the clock changes in it or at either end."""
    start = datetime(day.year, day.month, day.day)  # noqa: DTZ001 - a wall time
    try:
        first = start.replace(tzinfo=zone).utcoffset()
        last = (start + timedelta(days=1)).replace(tzinfo=zone, fold=1).utcoffset()
        _ = start - timedelta(days=1), start + timedelta(days=2)  # near either end of the calendar: time by time
    except OverflowError:
        return None
    if first is None or first != last or first.microseconds:
        return None
    return first.days * 86400 + first.seconds
