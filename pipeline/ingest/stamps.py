"""Reads ISO 8601 times into naive UTC, and says of each that cannot be read why not.

Stamps in the usual spelling are read all at once; a day of a clock change, and any rarer spelling, goes through
Python's datetime one distinct text at a time. Both ways use the same zone rules.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

UNREADABLE, SKIPPED = "unreadable", "skipped"
SCHEMA = pl.Schema(
    {
        "at_utc": pl.Datetime("us"),
        "is_ambiguous": pl.Boolean(),
        "stamp_digits": pl.Int8(),
        "problem": pl.String(),
    }
)
USUAL = (
    r"^(?:19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}[T ](?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]"
    r"(?:\.[0-9]+)?(?:Z|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])?$"
)
MIDNIGHT_AT_THE_END = re.compile(r"(.*[T ])24(:?00(?::?00(?:[.,]0+)?)?)?(Z|[+-][0-9:]+)?", re.ASCII)
SPELLED = re.compile(r"[0-9TtWZ:.,+ -]+", re.ASCII)
FRACTION = re.compile(r"[.,]([0-9]+)", re.ASCII)


def read_stamps(texts: pl.Series, zone: ZoneInfo) -> pl.DataFrame:
    """One row a text: ``at_utc``, ``is_ambiguous``, ``stamp_digits`` and ``problem``.

    Accepts what ``datetime.fromisoformat`` does, and 24:00 as the next midnight. A text without an offset is in
    ``zone``: of the two instants of the hour that comes twice in autumn the first is meant, and ``is_ambiguous`` is
    true; a time of the hour that spring leaves out has the problem ``skipped``. ``stamp_digits`` counts the digits
    written of the second's fraction, at most 6; what follows them is cut off, not rounded. A text that is no time, or
    beyond the years 1 to 9999, has the problem ``unreadable``. A null has neither instant nor problem.
    """
    frame = _read_usual(texts.rename("text"), zone)
    rare = frame.filter(pl.col("at_utc").is_null() & pl.col("text").is_not_null())["text"].unique(maintain_order=True)
    if rare.is_empty():
        return frame.select(list(SCHEMA))
    read = pl.DataFrame([_read_one(text, zone) for text in rare.to_list()], schema=SCHEMA, orient="row")
    both = frame.join(read.with_columns(text=rare), on="text", how="left", suffix="_rare", maintain_order="left")
    is_rare = pl.col("at_utc").is_null()
    return both.select(
        pl.when(is_rare).then(pl.col(f"{name}_rare")).otherwise(pl.col(name)).alias(name) for name in SCHEMA
    )


def _read_usual(texts: pl.Series, zone: ZoneInfo) -> pl.DataFrame:
    """The stamps of ordinary days in the usual spelling; ``at_utc`` of all others is null."""
    text = pl.col("text")
    wall = text.str.head(19).str.replace(" ", "T", literal=True).str.to_datetime("%Y-%m-%dT%H:%M:%S", strict=False)
    frame = pl.DataFrame({"text": texts}).with_columns(pl.when(text.str.contains(USUAL)).then(wall).alias("wall"))
    tail = text.str.slice(19)
    frame = frame.with_columns(
        tail.str.extract(r"^\.([0-9]+)").fill_null("").alias("fraction"),
        pl.when(pl.col("wall").is_not_null()).then(tail.str.extract(r"(Z|[+-].+)$")).alias("offset"),
        pl.col("wall").dt.date().alias("day"),
    )
    shift = pl.coalesce(_offsets_written(frame["offset"]), _offsets_of_days(frame["day"], zone))
    micros = pl.col("fraction").str.head(6).str.pad_end(6, "0").cast(pl.Int64)
    at = (pl.col("wall").cast(pl.Int64) + micros - shift * 1_000_000).cast(pl.Datetime("us"))
    digits = pl.col("fraction").str.len_bytes().clip(0, 6).cast(pl.Int8)
    return frame.with_columns(
        at.alias("at_utc"),
        pl.lit(value=False).alias("is_ambiguous"),
        digits.alias("stamp_digits"),
        pl.lit(None, pl.String).alias("problem"),
    )


def _offsets_written(offsets: pl.Series) -> pl.Expr:
    known = {text: _seconds(text) for text in offsets.drop_nulls().unique().to_list()}
    return _looked_up("offset", known)


def _seconds(offset: str) -> int:
    if offset == "Z":
        return 0
    hours, minutes = offset[1:].split(":")
    return (-1 if offset[0] == "-" else 1) * (int(hours) * 3600 + int(minutes) * 60)


def _offsets_of_days(days: pl.Series, zone: ZoneInfo) -> pl.Expr:
    known = {day: _offset_of_day(day, zone) for day in days.drop_nulls().unique().to_list()}
    return _looked_up("day", {day: seconds for day, seconds in known.items() if seconds is not None})


def _looked_up(column: str, known: Mapping[Any, int]) -> pl.Expr:
    if not known:
        return pl.lit(None, pl.Int64)
    return pl.col(column).replace_strict(list(known), list(known.values()), default=None, return_dtype=pl.Int64)


@lru_cache(maxsize=100_000)
def _offset_of_day(day: date, zone: ZoneInfo) -> int | None:
    """Seconds east of UTC all that local day, or None if the clock changes in it or at either end."""
    start = datetime(day.year, day.month, day.day)  # noqa: DTZ001 - a wall time
    first = start.replace(tzinfo=zone).utcoffset()
    last = (start + timedelta(days=1)).replace(tzinfo=zone, fold=1).utcoffset()
    if first is None or first != last or first.microseconds:
        return None
    return first.days * 86400 + first.seconds


def _read_one(text: str, zone: ZoneInfo) -> tuple[datetime | None, bool, int, str | None]:
    try:
        wall = _parse(text)
        at = (wall if wall.tzinfo else wall.replace(tzinfo=zone)).astimezone(UTC)
        again = (wall if wall.tzinfo else wall.replace(tzinfo=zone, fold=1)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None, False, 0, UNREADABLE
    if again < at:  # the spring gap: read with the offset before it, the time lies later than with the one after
        return None, False, 0, SKIPPED
    fraction = FRACTION.search(text)
    return at.replace(tzinfo=None), again > at, min(len(fraction[1]), 6) if fraction else 0, None


def _parse(text: str) -> datetime:
    if not SPELLED.fullmatch(text):  # fromisoformat overlooks a NUL at the end, and takes any letter for the T
        raise ValueError(text[:60])
    end_of_day = MIDNIGHT_AT_THE_END.fullmatch(text)
    if end_of_day is None:
        return datetime.fromisoformat(text)
    day, rest, offset = end_of_day.groups()
    return datetime.fromisoformat(f"{day}00{rest or ''}{offset or ''}") + timedelta(days=1)
