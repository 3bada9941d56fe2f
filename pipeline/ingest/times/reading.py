"""How a room writes times, as one value, and what can be wrong with a time: shared by all that read one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from fractions import Fraction
from zoneinfo import ZoneInfo

import polars as pl

UNREADABLE = "unreadable"  # no time in any notation that the reading allows
SKIPPED = "skipped"  # a local time of the hour that spring leaves out
NO_ORDER = "no_order"  # day and month, or the year, cannot be told apart, and no order of dates is given
NO_YEAR = "no_year"  # a date without a year, and none given
NO_DAY = "no_day"  # a time without a date, and none given
NO_TIMECODE = "no_timecode"  # a time code that SMPTE ST 12-1 does not have at this rate

PARTS = pl.Schema(
    {
        "day": pl.Date(),
        "month": pl.Int8(),
        "day_of_month": pl.Int8(),
        "clock_us": pl.Int64(),
        "offset_us": pl.Int64(),
        "stamp_digits": pl.Int8(),
        "problem": pl.String(),
    }
)
"""A time taken apart. Without a year ``day`` is null, and ``month`` and ``day_of_month`` are given; without a date all
three are null.

``clock_us`` counts from the midnight at which that day begins, to 48 h, and is null where no time of day is written;
``offset_us`` is east of UTC, null where none is written.
"""


@dataclass(frozen=True)
class Reading:
    """What the stamps of a file mean. With a zone alone only ISO 8601 is read; anything more opens all notations.

    ``date_order`` is "", "ymd", "dmy" or "mdy"; ``numbers`` is what a bare number counts: "" (it is no time),
    "epoch_s", "epoch_ms", "epoch_us", "serial_1900" or "serial_1904". ``day_starts`` is given where dates are
    broadcast days, which begin at it. ``timecode_rate`` is in frames per second; ``year`` and ``day`` are those of
    the file's first stamp that lacks them.
    """

    zone: ZoneInfo
    date_order: str = ""
    numbers: str = ""
    day_starts: time | None = None
    timecode_rate: Fraction | None = None
    year: int | None = None
    day: date | None = None

    @property
    def is_iso_only(self) -> bool:
        """Nothing but the zone is said."""
        return self == Reading(self.zone)


@dataclass
class Carry:
    """What stamps without a day or a year take from those before them, in one column of one file.

    Mutable: one is made for each column when the file is opened, and handed from batch to batch in file order.
    ``day`` and ``clock_us`` are those of the last stamp without a date; ``year`` and ``place`` (31 times the month from
    0, plus the day) those of the last one without a year.
    """

    day: date | None = None
    clock_us: int | None = None
    year: int | None = None
    place: int | None = None

    @property
    def is_used(self) -> bool:
        """Some stamp was dated by those before it, so that the file cannot be read from its middle."""
        return self.day is not None or self.year is not None
