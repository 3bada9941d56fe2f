"""Gives a day to stamps that lack it or its year, from the file's own and from the stamps before them, in file order.

A time that goes back by more than twelve hours has passed midnight: no log runs so late, and a silence is never taken
for more than one midnight. So a file without dates must be in time order, and have a line at least every twelve hours
or so; a line of the evening before that is written after midnight would count a day too far.
"""

from __future__ import annotations

from datetime import date, time, timedelta

import polars as pl

from pipeline.ingest.times.reading import NO_DAY, NO_YEAR, UNREADABLE, Carry, Reading

DAY_US = 86_400_000_000
HALF_YEAR = 6 * 31  # in places: 31 times the month from 0, plus the day of the month
JANUARY, DECEMBER = range(1, 32), 11 * 31  # places within the one, and below the other


def with_days(parts: pl.DataFrame, reading: Reading, carry: Carry) -> pl.DataFrame:
    """``parts`` (``PARTS``) of consecutive stamps with every ``day`` filled in, or a ``problem`` where none is known.

    Where dates are broadcast days, a written time before the day's start, on a stamp without an offset, belongs to the
    next calendar day, and its ``clock_us`` becomes 24 h more; hours from 24 on already say so. Without a year: that of
    the reading, and a step from December back to January (by more than half a year) begins the next, one from January
    to December goes back. Without a date: the day of the reading, and a time that goes back by more than 12 h begins
    the next. ``carry`` holds where the stamps before this frame had come to, and is moved on.
    """
    parts = _in_broadcast_days(parts, reading.day_starts)
    is_open = parts["problem"].is_null() & parts["day"].is_null()
    if not is_open.any():
        return parts
    has_month = parts["month"].is_not_null()
    parts = parts.with_row_index("place_in_file")
    yearless = _with_years(parts.filter(is_open & has_month), reading.year, carry)
    dayless = _with_days(parts.filter(is_open & ~has_month), reading.day, carry)
    return pl.concat([parts.filter(~is_open), yearless, dayless]).sort("place_in_file").drop("place_in_file")


def _in_broadcast_days(parts: pl.DataFrame, day_starts: time | None) -> pl.DataFrame:
    if day_starts is None:
        return parts
    start = timedelta(hours=day_starts.hour, minutes=day_starts.minute, seconds=day_starts.second)
    start_us = start // timedelta(microseconds=1) + day_starts.microsecond
    is_night = (pl.col("clock_us") < start_us) & pl.col("offset_us").is_null()
    late = pl.when(is_night).then(pl.col("clock_us") + DAY_US).otherwise("clock_us")
    return parts.with_columns(late.alias("clock_us"))


def _with_years(parts: pl.DataFrame, year: int | None, carry: Carry) -> pl.DataFrame:
    first = carry.year if carry.year is not None else year
    if first is None or parts.is_empty():
        return parts.with_columns(pl.lit(NO_YEAR).alias("problem"))
    place = (pl.col("month").cast(pl.Int64) - 1) * 31 + pl.col("day_of_month")
    before = place.shift(1).fill_null(carry.place) if carry.place is not None else place.shift(1)
    is_next = (place - before < -HALF_YEAR).fill_null(value=False)
    is_back = (before.is_between(JANUARY[0], JANUARY[-1]) & (place > DECEMBER)).fill_null(value=False)
    years = (is_next.cast(pl.Int64) - is_back.cast(pl.Int64)).cum_sum() + first
    parts = parts.with_columns(years.alias("year"), place.alias("place"))
    carry.year, carry.place = parts["year"][-1], parts["place"][-1]
    month = pl.when(pl.col("year").is_between(1, 9999)).then(pl.date("year", "month", 1))
    day = month + pl.duration(days=pl.col("day_of_month").cast(pl.Int64) - 1)
    is_day = (day.dt.month() == pl.col("month")).fill_null(value=False)  # the 29th of February is not of every year
    return parts.with_columns(
        pl.when(is_day).then(day).alias("day"), pl.when(~is_day).then(pl.lit(UNREADABLE)).alias("problem")
    ).drop("year", "place")


def _with_days(parts: pl.DataFrame, day: date | None, carry: Carry) -> pl.DataFrame:
    first = carry.day if carry.day is not None else day
    if first is None or parts.is_empty():
        return parts.with_columns(pl.lit(NO_DAY).alias("problem"))
    clock = pl.col("clock_us")
    before = clock.shift(1).fill_null(carry.clock_us) if carry.clock_us is not None else clock.shift(1)
    midnights = (clock - before < -DAY_US // 2).fill_null(value=False).cast(pl.Int64).cum_sum()
    parts = parts.with_columns(midnights.alias("midnights"))
    carry.day = first + timedelta(days=min(parts["midnights"][-1], (date.max - first).days))
    carry.clock_us = parts["clock_us"][-1]
    return parts.with_columns((pl.lit(first) + pl.duration(days="midnights")).alias("day")).drop("midnights")
