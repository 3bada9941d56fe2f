"""Times written as bare numbers: what counts seconds from 1970, and a spreadsheet's days."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

import polars as pl

from pipeline.ingest.times.reading import PARTS, UNREADABLE

NUMBER = r"^[+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]{1,3})?$"
PIECES = r"^([+-])?0*([0-9]*)(?:[.,]([0-9]+))?$"
PLACES = {"epoch_s": 6, "epoch_ms": 3, "epoch_us": 0}  # digits from the unit down to the microsecond
END_S = 253_402_300_800  # the second after 9999; the years before 1970 have fewer
DAY_US, DAY_MS = 86_400_000_000, 86_400_000
LONGEST = 40  # characters; no time needs more
# ECMA-376 Part 1 section 18.17.4.1, as days from 1970-01-01 to serial 0: 1899-12-30, and 1904-01-01.
ZERO = {"serial_1900": -25_569, "serial_1904": -24_107}
END = {"serial_1900": 2_958_466, "serial_1904": 2_957_004}  # the serial after 9999-12-31
PHANTOM = 60  # 29 February 1900, which the 1900 system counts and the calendar does not have


def read_numbers(texts: pl.Series, numbers: str) -> pl.DataFrame:
    """The parts (``PARTS``) of bare numbers, which count what ``numbers`` says.

    An epoch counts in UTC; what follows the microsecond is cut off. A serial is wall time, rounded to the millisecond
    because a time of day is seldom a finite fraction of a day; a whole serial is a date without a time of day, one
    below 1 a time of day without a date. In the 1900 system those below 60 count from 31 December 1899, those from 61
    on from 30 December, and 60 is 29 February 1900: no date, so ``unreadable``, like all that a system does not reach.
    """
    frame = _without_exponents(texts.rename("text"))
    parts = _epochs(frame, PLACES[numbers]) if numbers in PLACES else _serials(frame, numbers)
    is_read = pl.any_horizontal(pl.col("day", "clock_us").is_not_null())
    parts = parts.with_columns(pl.when(~is_read).then(pl.lit(UNREADABLE)).alias("problem"))
    return parts.select(
        (pl.col(name) if name in parts.columns else pl.lit(None)).cast(kind).alias(name) for name, kind in PARTS.items()
    )


def _without_exponents(texts: pl.Series) -> pl.DataFrame:
    frame = pl.DataFrame({"text": texts}).select(pl.when(pl.col("text").str.len_bytes() <= LONGEST).then("text"))
    powers = frame["text"].filter(frame["text"].str.contains("[eE]")).unique().to_list()
    if not powers:
        return frame
    return frame.with_columns(pl.col("text").replace(powers, [_plain(text) for text in powers]))


def _plain(text: str) -> str | None:
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        return None
    return f"{number:f}" if abs(number.adjusted()) < LONGEST else None


def _epochs(frame: pl.DataFrame, places: int) -> pl.DataFrame:
    """Days and microseconds in UTC of counts of 10 ** ``places`` microseconds."""
    pieces = pl.col("text").str.extract_groups(PIECES).struct.rename_fields(["sign", "whole", "fraction"])
    frame = frame.select(pieces.alias("pieces")).unnest("pieces").with_columns(pl.col("fraction").fill_null(""))
    whole = pl.when(pl.col("whole") == "").then(pl.lit("0")).otherwise("whole").cast(pl.Int64, strict=False)
    whole = pl.when(whole < END_S * 10 ** (6 - places)).then(whole)
    rest = pl.col("fraction").str.head(places).str.pad_end(places, "0").cast(pl.Int64, strict=False).fill_null(0)
    sign = pl.when(pl.col("sign") == "-").then(-1).otherwise(1)
    frame = frame.with_columns((sign * (whole * 10**places + rest)).alias("at_us"))
    is_known = pl.col("at_us") >= -62_135_596_800_000_000  # 0001-01-01
    day = pl.when(is_known).then(pl.col("at_us") // DAY_US)
    return frame.select(
        day.cast(pl.Int32).cast(pl.Date).alias("day"),
        (pl.col("at_us") - day * DAY_US).alias("clock_us"),
        pl.lit(0).alias("offset_us"),
        (pl.col("fraction").str.len_bytes().cast(pl.Int64) + 6 - places).clip(0, 6).alias("stamp_digits"),
    )


def _serials(frame: pl.DataFrame, numbers: str) -> pl.DataFrame:
    value = pl.col("text").str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    value = pl.when((value >= 0) & (value < END[numbers])).then(value)
    frame = frame.with_columns((value * DAY_MS).round().cast(pl.Int64).alias("ms"), (value < 1).alias("is_clock"))
    serial, rest = pl.col("ms") // DAY_MS, pl.col("ms") % DAY_MS
    day: pl.Expr = pl.when(~pl.col("is_clock") & (serial < END[numbers])).then(serial + ZERO[numbers])
    if numbers == "serial_1900":
        day = pl.when(serial != PHANTOM).then(day + (serial < PHANTOM).cast(pl.Int64))
    clock = pl.when("is_clock").then("ms").when(day.is_not_null() & (rest > 0)).then(rest)
    written = pl.col("text").str.extract(r"[.,]([0-9]+)$").str.len_bytes().cast(pl.Int64).fill_null(0)
    return frame.select(
        day.cast(pl.Int32).cast(pl.Date).alias("day"),
        (clock * 1000).alias("clock_us"),
        # The fifth digit of a day is 0.86 s: what is written beyond it are digits of the second.
        pl.when(rest % 1000 == 0).then(0).otherwise((written - 5).clip(0, 3)).alias("stamp_digits"),
    )
