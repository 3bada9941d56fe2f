"""Reads times into naive UTC, and says of each that cannot be read why not.

ISO 8601 stamps in the usual spelling are read all at once; a day of a clock change, and any rarer spelling, goes
through Python's datetime one distinct text at a time. Both ways use the same zone rules. Other notations are read where
the reading says more than a zone.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline.ingest.times.iso_texts import digits_of_second, parse_iso
from pipeline.ingest.times.notations import read_parts
from pipeline.ingest.times.reading import (
    NO_DAY,
    NO_ORDER,
    NO_TIMECODE,
    NO_YEAR,
    SKIPPED,
    UNREADABLE,
    Carry,
    Reading,
)
from pipeline.ingest.times.same_layout import Walls, walls_by_layout
from pipeline.ingest.times.undated import with_days
from pipeline.ingest.times.wall_times import FIRST, LAST, looked_up, offset_of_day, offsets_of_days, place_walls

__all__ = [
    "NO_DAY",
    "NO_ORDER",
    "NO_TIMECODE",
    "NO_YEAR",
    "SCHEMA",
    "SKIPPED",
    "UNREADABLE",
    "Carry",
    "Reading",
    "read_stamps",
]
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
DAY_US = 86_400_000_000
EPOCH = date(1970, 1, 1)


def read_stamps(texts: pl.Series, reading: ZoneInfo | Reading, state: Carry | None = None) -> pl.DataFrame:
    """One row a text: ``at_utc``, ``is_ambiguous``, ``stamp_digits`` and ``problem``.

    With a zone alone, accepts what ``datetime.fromisoformat`` reads as ISO 8601 has it, and 24:00 as the next midnight;
    with more, every notation that ``notations.read_parts`` lists. A text without an offset is in the zone: of the two
    instants of the hour that comes twice in autumn the first is meant, and ``is_ambiguous`` is true; a time of the hour
    that spring leaves out has the problem ``skipped``. Hours from 24 on and broadcast days move the wall time, and the
    zone's rules apply to what results. ``stamp_digits`` counts the digits written of the second's fraction, at most 6;
    what follows them is cut off, not rounded. Frames count as one digit, as a frame is longer than 10 ms. A text that
    is no time, or beyond the years 1 to 9999, has the problem ``unreadable``; ``reading`` lists the other problems. A
    null has neither instant nor problem.

    ``state`` is what stamps without a day or a year take from those before them: the same one for each batch of one
    column of one file, in file order. It is moved on. Without one, ``texts`` begin afresh.
    """
    if isinstance(reading, ZoneInfo):
        return _read_iso(texts, reading)
    if reading.is_iso_only:
        return _read_iso(texts, reading.zone)
    return _read_all(texts, reading, state or Carry())


def _read_iso(texts: pl.Series, zone: ZoneInfo) -> pl.DataFrame:
    """Stamps written alike all at once, then those of ordinary days in the usual spelling, one by one what is left."""
    at_us, digits = np.zeros(texts.len(), np.int64), np.zeros(texts.len(), np.int8)
    is_left = np.ones(texts.len(), bool)
    for places, walls in walls_by_layout(texts):
        shift_s, is_known = shifts(walls, zone)
        is_read = walls.is_read & is_known
        chosen = places[is_read]
        at_us[chosen], digits[chosen] = (walls.wall_us - shift_s * 1_000_000)[is_read], walls.digits
        is_left[chosen] = False
    if is_left.all():
        return _read_mixed(texts, zone)
    frame = pl.DataFrame(
        {
            "at_utc": pl.Series(at_us).cast(pl.Datetime("us")),
            "is_ambiguous": pl.repeat(value=False, n=texts.len(), eager=True),
            "stamp_digits": digits,
            "problem": pl.repeat(None, texts.len(), dtype=pl.String, eager=True),
        },
        schema=SCHEMA,
    )
    left = np.flatnonzero(is_left)
    if not left.size:
        return frame
    rest = _read_mixed(texts.gather(left), zone).with_columns(pl.Series("place", left))
    good = frame.with_columns(pl.int_range(pl.len()).alias("place")).filter(pl.Series(~is_left))
    return pl.concat([good, rest]).sort("place").select(list(SCHEMA))


def shifts(walls: Walls, zone: ZoneInfo) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Seconds east of UTC of each wall time, and whether they are known: not on a day of a clock change."""
    if walls.ending:
        count = walls.day.size
        return np.full(count, _seconds(walls.ending), np.int64), np.ones(count, bool)
    first, last = (int(end(walls.day, initial=0, where=walls.is_read)) for end in (np.min, np.max))
    is_there = np.zeros(last - first + 1, bool)
    is_there[walls.day[walls.is_read] - first] = True
    by_day, is_even = np.zeros(is_there.size, np.int64), np.zeros(is_there.size, bool)
    for place in np.flatnonzero(is_there).tolist():
        seconds = offset_of_day(EPOCH + timedelta(days=first + place), zone)
        by_day[place], is_even[place] = seconds or 0, seconds is not None
    places = np.where(walls.is_read, walls.day - first, 0)
    return by_day[places], is_even[places]


def _read_mixed(texts: pl.Series, zone: ZoneInfo) -> pl.DataFrame:
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


def _read_all(texts: pl.Series, reading: Reading, carry: Carry) -> pl.DataFrame:
    """Usual ISO stamps as ever, unless their dates are broadcast days; the rest by notation."""
    frame = texts.rename("text").to_frame()
    is_usual = frame["text"].str.contains(USUAL).fill_null(value=False)
    if reading.day_starts is None and is_usual.any():
        frame = _read_usual(frame["text"], reading.zone)
    else:
        frame = frame.with_columns(pl.lit(None, kind).alias(name) for name, kind in SCHEMA.items())
        frame = frame.with_columns(pl.lit(value=False).alias("is_ambiguous"), pl.lit(0, pl.Int8).alias("stamp_digits"))
    frame = frame.select("text", *SCHEMA).with_row_index("place")
    is_left = frame["at_utc"].is_null() & frame["text"].is_not_null()
    if not is_left.any():
        return frame.select(list(SCHEMA))
    left = frame.filter(is_left)
    read = _placed(with_days(read_parts(left["text"], reading), reading, carry), reading.zone)
    both = [frame.filter(~is_left).select("place", *SCHEMA), left.select("place").hstack(read)]
    return pl.concat(both).sort("place").select(list(SCHEMA))


def _placed(parts: pl.DataFrame, zone: ZoneInfo) -> pl.DataFrame:
    """The stamps whose ``parts`` are known: wall time of day and clock, less the offset written or the zone's."""
    wall = pl.col("day").cast(pl.Int64) * DAY_US + pl.col("clock_us").fill_null(0)
    frame = parts.with_columns(pl.when(pl.col("problem").is_null()).then(wall).alias("wall"))
    is_local = frame["offset_us"].is_null()
    local = place_walls(frame.select(pl.when(is_local).then(pl.col("wall").cast(pl.Datetime("us"))))["wall"], zone)
    there = (pl.col("wall") - pl.col("offset_us")).cast(pl.Datetime("us"))
    frame = frame.hstack(local).with_columns(
        pl.coalesce("at_utc", pl.when(there.is_between(FIRST, LAST)).then(there)).alias("at_utc")
    )
    problem = pl.coalesce(
        "problem",
        pl.when("is_skipped").then(pl.lit(SKIPPED)),
        pl.when(pl.col("at_utc").is_null()).then(pl.lit(UNREADABLE)),
    )
    return frame.with_columns(problem.alias("problem")).select(
        "at_utc",
        "is_ambiguous",
        pl.when(pl.col("problem").is_null()).then("stamp_digits").otherwise(0).cast(pl.Int8).alias("stamp_digits"),
        "problem",
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
    shift = pl.coalesce(_offsets_written(frame["offset"]), offsets_of_days(frame["day"], zone))
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
    return looked_up("offset", known)


def _seconds(offset: str) -> int:
    if offset == "Z":
        return 0
    hours, minutes = offset[1:].split(":")
    return (-1 if offset[0] == "-" else 1) * (int(hours) * 3600 + int(minutes) * 60)


def _read_one(text: str, zone: ZoneInfo) -> tuple[datetime | None, bool, int, str | None]:
    try:
        wall = parse_iso(text)
        at = (wall if wall.tzinfo else wall.replace(tzinfo=zone)).astimezone(UTC)
        again = (wall if wall.tzinfo else wall.replace(tzinfo=zone, fold=1)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None, False, 0, UNREADABLE
    if again < at:  # the spring gap: read with the offset before it, the time lies later than with the one after
        return None, False, 0, SKIPPED
    return at.replace(tzinfo=None), again > at, digits_of_second(text), None
