"""Takes stamps of every notation that rooms write apart into day, time of day and offset, a whole column at a time.

The time of day is cut out and counted for all rows at once. What stands around it, the date and what follows the time,
is read one distinct text at a time: a million stamps name only so many days.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from fractions import Fraction
from functools import partial
from typing import Any

import polars as pl

from pipeline.ingest.times.date_texts import read_date, without_weekday
from pipeline.ingest.times.iso_texts import rare_iso
from pipeline.ingest.times.reading import NO_TIMECODE, PARTS, UNREADABLE, Reading
from pipeline.ingest.times.serials import NUMBER, read_numbers
from pipeline.ingest.times.timecode import clock_of_labels

LONGEST = 80  # bytes; no stamp is longer
BETWEEN = "\x1f"  # parts what stands before the time of day from what follows it
CLOCK = r"^(|.*?[^0-9])([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?(?:([.,:;])([0-9]+))?(.*)$"
CLOCK_FIELDS = ("before", "hours", "minutes", "seconds", "mark", "fraction", "after")
# A time with dots follows a date: other marks, a year of four digits, or a name and a number.
DATED = r"(?:[0-9][/-]|[0-9]{4}|[A-Za-z]{3}[ .,-]+[0-9]|[0-9][ .-]*[A-Za-z]{3})"
WITHOUT_COLONS = (
    (r"^([0-9]{8})[Tt ]([0-9]{2})([0-9]{2})([0-9]{2})($|[^0-9].*$)", "${1} ${2}:${3}:${4}${5}"),
    (r"^([0-9]{8})[Tt ]([0-9]{2})([0-9]{2})($|[^0-9.,].*$)", "${1} ${2}:${3}${4}"),
    (rf"^(.*{DATED}.*?[T ])([0-9]{{1,2}})\.([0-9]{{2}})\.([0-9]{{2}})($|[^0-9.].*$)", "${1}${2}:${3}:${4}${5}"),
    (rf"^(.*{DATED}.*?[T ])([0-9]{{1,2}})\.([0-9]{{2}})($|[^0-9.,].*$)", "${1}${2}:${3}${4}"),
)
AFTER = re.compile(
    r"\s*(?:([ap])\.?m\.?(?![a-z]))?\s*(z|utc|gmt|[+-](?:[01][0-9]|2[0-3])(?::?[0-5][0-9])?)?(?![0-9a-z:])(.*)",
    re.ASCII | re.IGNORECASE | re.DOTALL,
)
AROUND = pl.Schema(
    {
        "around": pl.String(),
        **{name: PARTS[name] for name in ("day", "month", "day_of_month", "offset_us", "problem")},
        "half": pl.String(),
    }
)
OF_RARE = ("day", "clock_us", "offset_us", "stamp_digits")
RARE = pl.Schema({"text": pl.String(), **{name: PARTS[name] for name in OF_RARE}})
Around = tuple[date | None, int | None, int | None, int | None, str | None, str | None]
NOT_READ: Around = (None, None, None, None, UNREADABLE, None)


def read_parts(texts: pl.Series, reading: Reading) -> pl.DataFrame:
    """The parts (``PARTS``) of each of ``texts``, which are not null, with ``problem`` where they cannot be read.

    Dates: year, month and day parted by ``.``, ``/``, ``-`` or a space, in the order of ``reading``, or in the one that
    a year of four digits in front, or a number above 12, tells; a month by its English name anywhere; ``YYYYMMDD``.
    Years of two digits only where an order is given. Times: ``h:mm``, ``h:mm:ss``, with a fraction after a point or a
    comma, or with frames after ``:`` or ``;`` where there is a rate (a comma is always a decimal comma); with dots
    after a date; am or pm; hours 24 to 47 of the next day; then an offset, ``Z`` or ``UTC``. A bare number counts what
    ``reading`` says of numbers. And whatever ISO 8601 allows besides.
    """
    frame = texts.rename("text").to_frame().with_row_index("place")
    if not reading.numbers:
        return _read_words(frame["text"], reading)
    is_number = frame["text"].str.contains(NUMBER)
    words, numbers = frame.filter(~is_number), frame.filter(is_number)
    read = [
        words.select("place").hstack(_read_words(words["text"], reading)),
        numbers.select("place").hstack(read_numbers(numbers["text"], reading.numbers)),
    ]
    return pl.concat(read).sort("place").drop("place")


def cut_stamps(texts: pl.Series) -> pl.DataFrame:
    """Each text cut: ``around``, what stands around its time of day, and that time's digits, null where it has none."""
    text = pl.col("text")
    frame = texts.rename("text").to_frame().select(pl.when(text.str.len_bytes() <= LONGEST).then(text))
    has_colon = text.str.contains(":", literal=True)
    if not frame.select(has_colon.all()).item():
        for pattern, colons in WITHOUT_COLONS:
            is_such = ~has_colon & text.str.contains(pattern)
            if frame.select(is_such.any()).item():
                frame = frame.with_columns(pl.when(is_such).then(text.str.replace(pattern, colons)).otherwise(text))
    cut = text.str.extract_groups(CLOCK).struct.rename_fields(CLOCK_FIELDS).alias("cut")
    frame = frame.with_columns(cut).unnest("cut")
    around = pl.concat_str(pl.coalesce("before", "text"), pl.col("after").fill_null(""), separator=BETWEEN)
    return frame.select(around.alias("around"), *CLOCK_FIELDS[1:-1])


def date_text(around: str) -> str:
    """The date within ``around``, as ``cut_stamps`` gives it, or what stands in its place."""
    return _split_around(around)[0]


def _read_words(texts: pl.Series, reading: Reading) -> pl.DataFrame:
    cut = cut_stamps(texts)
    known = _distinct(cut["around"], AROUND, partial(_read_around, order=reading.date_order))
    frame = cut.join(known, on="around", how="left", maintain_order="left")
    frame = frame.with_columns(pl.col("hours", "minutes", "seconds").cast(pl.Int64))
    is_label = pl.col("mark").is_in([":", ";"]).fill_null(value=False)
    has_clock = pl.col("hours").is_not_null()
    clock = pl.when(is_label).then(_clock_of_label(reading.timecode_rate)).otherwise(_clock_written())
    is_bare = ~has_clock & pl.all_horizontal(pl.col("day", "month", "problem").is_null())
    is_wrong = ~_is_face() | (is_label & ~_may_be_label(reading.timecode_rate)) | is_bare
    wrong = pl.when(is_wrong).then(pl.lit(UNREADABLE))
    digits = pl.when(is_label).then(1).otherwise(pl.col("fraction").str.len_bytes().clip(0, 6)).fill_null(0)
    frame = frame.with_columns(clock.alias("clock_us"), digits.cast(pl.Int8).alias("stamp_digits"))
    missing = pl.when(has_clock & pl.col("clock_us").is_null()).then(pl.lit(NO_TIMECODE))
    frame = frame.with_columns(pl.coalesce(wrong, "problem", missing).alias("problem"))
    return _with_rare_iso(frame.select(list(PARTS)), texts)


def _distinct(texts: pl.Series, schema: pl.Schema, read: Callable[[str], tuple[Any, ...]]) -> pl.DataFrame:
    """What ``read`` makes of each distinct text, beside it."""
    distinct = texts.drop_nulls().unique().to_list()
    return pl.DataFrame([(text, *read(text)) for text in distinct], schema=schema, orient="row")


def _split_around(around: str) -> tuple[str, re.Match[str] | None]:
    before, _, after = around.replace("\u00a0", " ").replace("\u202f", " ").partition(BETWEEN)
    tail = AFTER.fullmatch(after)
    rest = tail[3].strip(" ") if tail else ""
    return (f"{before} {rest}" if rest else before).strip(" "), tail


def _read_around(around: str, order: str) -> Around:
    text, tail = _split_around(around)
    if tail is None:
        return NOT_READ
    offset_us, half = _offset_us(tail[2]), (tail[1] or "").lower() or None
    if not without_weekday(text):
        return None, None, None, offset_us, None, half
    found = read_date(text)
    if found.yearless is not None:
        return None, *found.yearless, offset_us, None, half
    day, problem = found.in_order(order)
    return day, None, None, offset_us, problem, half


def _offset_us(text: str | None) -> int | None:
    if text is None:
        return None
    digits = text[1:].replace(":", "")
    if not digits.isdigit():
        return 0  # Z, UTC, GMT
    minutes = int(digits[:2]) * 60 + int(digits[2:] or 0)
    return (-1 if text[0] == "-" else 1) * minutes * 60_000_000


def _is_face() -> pl.Expr:
    """The time of day, where there is one, may stand on a clock's face, the hours on to 47."""
    hours, half = pl.col("hours"), pl.col("half")
    is_within = (hours < 48) & (pl.col("minutes") < 60) & (pl.col("seconds").fill_null(0) < 60)
    is_half = half.is_null() | hours.is_between(1, 12)
    is_whole = pl.col("fraction").is_null() | pl.col("seconds").is_not_null()
    return (hours.is_null() & half.is_null()) | (is_within & is_half & is_whole).fill_null(value=False)


def _hours() -> pl.Expr:
    """Hours from midnight: 12 am is 0, 12 pm is 12."""
    in_half = pl.col("hours") % 12 + pl.when(pl.col("half") == "p").then(12).otherwise(0)
    return pl.when(pl.col("half").is_null()).then("hours").otherwise(in_half)


def _clock_written() -> pl.Expr:
    seconds = (_hours() * 60 + pl.col("minutes")) * 60 + pl.col("seconds").fill_null(0)
    micros = pl.col("fraction").str.head(6).str.pad_end(6, "0").cast(pl.Int64).fill_null(0)
    return seconds * 1_000_000 + micros


def _may_be_label(rate: Fraction | None) -> pl.Expr:
    return pl.lit(rate is not None) & pl.col("fraction").str.len_bytes().is_between(2, 3)


def _clock_of_label(rate: Fraction | None) -> pl.Expr:
    if rate is None:
        return pl.lit(None, pl.Int64)
    frames = pl.when(_may_be_label(rate)).then("fraction").cast(pl.Int64)
    is_drop = pl.col("mark") == ";"
    return clock_of_labels(_hours(), pl.col("minutes"), pl.col("seconds"), frames, is_drop=is_drop, rate=rate)


def _with_rare_iso(parts: pl.DataFrame, texts: pl.Series) -> pl.DataFrame:
    """``parts`` with what ISO 8601 allows beyond the notations above: week dates, hours alone, offsets with seconds."""
    is_left = (parts["problem"] == UNREADABLE).fill_null(value=False) & (texts.str.len_bytes() <= LONGEST)
    if not is_left.any():
        return parts
    rare = _distinct(texts.filter(is_left), RARE, rare_iso)
    left = texts.rename("text").to_frame().with_row_index("place").filter(is_left)
    found = left.join(rare.filter(pl.col("day").is_not_null()), on="text").drop("text")
    nothing = pl.lit(None, pl.String).alias("problem")
    parts = parts.with_row_index("place").update(found.with_columns(nothing), on="place", include_nulls=True)
    return parts.drop("place")
