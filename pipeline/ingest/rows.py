"""Types the cells of a batch by its feed's definition: what can be read becomes a row of the feed's table, the rest is
set aside with the first reason found, in the order of the columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

import polars as pl

from pipeline.ingest.batch import Batch, all_aside, aside_rows, cell_name, with_texts
from pipeline.ingest.feeds import BOOKINGS, EVENTS, Column, Feed
from pipeline.ingest.times.reading import NO_DAY, NO_ORDER, NO_TIMECODE, NO_YEAR, SKIPPED, Carry, Reading
from pipeline.ingest.times.stamps import read_stamps

NUMBER = r"^[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?$"
WORD_NAMES = {"rules": "kind of ruling"}  # where a column's own name does not say what its words are
LONGEST_QUOTE = 60
NOT_AFTER = "The booking ends at or before its start (starts {}, ends {}). Expected an end after the start."
TIME_PROBLEMS = {
    SKIPPED: " in column {} is a local time that does not exist on that day (clocks go forward).",
    NO_ORDER: " in column {} is not a time: its day and month cannot be told. Expected an ISO 8601 time, or "
    "set date_order in site.toml.",
    NO_YEAR: " in column {} has no year. Put the year into the file's name, or set year in its [[feeds]] table.",
    NO_DAY: " in column {} has no date. Put the date into the file's name, or set day in its [[feeds]] table.",
    NO_TIMECODE: " in column {} is no timecode: SMPTE ST 12-1 skips its number, or its frame is too high for the rate.",
}
EVENT_HEADERS = tuple(column.name for column in EVENTS.columns)
Fault = tuple[pl.Expr, pl.Expr]
ON_AIR_ROLES = ("air", "protect")


def type_rows(
    feed: Feed, batch: Batch, reading: ZoneInfo | Reading, carries: Mapping[str, Carry] | None = None
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The readable rows, with the columns of the feed's table but ``file``, and the rows set aside.

    ``reading`` says how stamps are written, or only the zone of those without an offset; ``carries`` holds, for each
    column of times, what stamps without a day or a year have from the rows before. Every row of the batch is in exactly
    one of the two frames. ``text`` of a readable event may be null, see ``event_rows``.
    """
    frame = batch.rows.with_columns(_named_cells(feed, batch.headers))
    frame = _with_stamps(feed, frame, reading, carries or {}).with_columns(_numbers(feed))
    faults = _faults(feed)
    is_bad = frame.select(pl.any_horizontal(is_wrong.fill_null(value=False) for is_wrong, _ in faults)).to_series()
    aside = batch.aside
    if is_bad.any():  # the words are put together for the rows that need them only
        reason = pl.coalesce(*(pl.when(is_wrong).then(why) for is_wrong, why in faults))
        bad = with_texts(batch, frame.filter(is_bad)).with_columns(reason.alias("reason"))
        aside = all_aside([aside, aside_rows(bad["line"], bad["text"], bad["reason"])])
    stored = [part for column in feed.columns for part in _stored(column)]
    kept = _with_needed_texts(feed, batch, frame)
    kept = kept.select("line", "text", *stored, _extra(feed, batch.headers))
    return kept.filter(~is_bad) if is_bad.any() else kept, aside


def _with_needed_texts(feed: Feed, batch: Batch, kept: pl.DataFrame) -> pl.DataFrame:
    """``kept`` with its texts, but where an event's is left to be written again from its columns: it has no value."""
    if not batch.delimiter:
        return kept
    if feed is not EVENTS or batch.delimiter != "," or batch.headers != EVENT_HEADERS:
        return with_texts(batch, kept)
    has_value = kept["own_value"].is_not_null()
    if not has_value.any():
        return kept
    texts = with_texts(batch, kept.filter(has_value))["text"]
    return kept.with_columns(kept["text"].scatter(has_value.arg_true(), texts))


def _named_cells(feed: Feed, headers: Sequence[str]) -> list[pl.Expr]:
    place = {header: cell_name(k) for k, header in enumerate(headers)}
    empty = pl.lit(None, pl.String)
    return [
        (pl.col(place[column.name]) if column.name in place else empty).alias(f"own_{column.name}")
        for column in feed.columns
    ]


def _cell(column: Column) -> pl.Expr:
    return pl.col(f"own_{column.name}")


def _with_stamps(
    feed: Feed, frame: pl.DataFrame, reading: ZoneInfo | Reading, carries: Mapping[str, Carry]
) -> pl.DataFrame:
    times = [column for column in feed.columns if column.kind == "time"]
    stamps = [
        read_stamps(frame[f"own_{column.name}"], reading, carries.get(column.name)).select(
            pl.all().name.prefix(f"{column.name}_")
        )
        for column in times
    ]
    return pl.concat([frame, *stamps], how="horizontal")


def _numbers(feed: Feed) -> list[pl.Expr]:
    return [_number(column).alias(f"number_{column.name}") for column in feed.columns if column.kind == "number"]


def _number(column: Column) -> pl.Expr:
    value = pl.when(_cell(column).str.contains(NUMBER)).then(_cell(column)).cast(pl.Float64, strict=False)
    return pl.when(value.is_finite()).then(value)


def _stored(column: Column) -> list[pl.Expr]:
    stored = column.stored or column.name
    if column.kind == "number":
        return [pl.col(f"number_{column.name}").alias(stored)]
    if column.kind != "time":
        return [_cell(column).alias(stored)]
    kept = [
        _cell(column).alias(name) if name == "at_text" else pl.col(f"{column.name}_{name}").alias(name)
        for name in column.keeps
    ]
    return [*kept[:1], pl.col(f"{column.name}_at_utc").alias(stored), *kept[1:]]


def _faults(feed: Feed) -> list[Fault]:
    """What can be wrong with a row, in the order in which it is said: whether it is, and the words."""
    faults = [fault for column in feed.columns for fault in _faults_of(feed, column)]
    return [*faults, *_booking_faults()] if feed is BOOKINGS else faults


def _faults_of(feed: Feed, column: Column) -> list[Fault]:
    cell = _cell(column)
    faults: list[Fault] = []
    if column.is_filled:
        empty = f"The cell {column.name} is empty. Every row of {feed.name} needs one."
        faults.append((cell.is_null(), pl.lit(empty)))
    if column.kind == "time":
        faults += _time_faults(column)
    elif column.kind == "number":
        wrong = f" is not a number in column {column.name}. Expected one such as 0.04."
        faults.append((cell.is_not_null() & pl.col(f"number_{column.name}").is_null(), _quoted(cell) + wrong))
    elif column.kind == "word":
        name = WORD_NAMES.get(column.name, column.name)
        article = "an" if name[0] in "aeiou" else "a"
        wrong = f" is not {article} {name}. Expected one of {', '.join(column.words)}."
        faults.append((~cell.is_in(column.words), _quoted(cell) + wrong))
    return faults


def _time_faults(column: Column) -> list[Fault]:
    problem, text = pl.col(f"{column.name}_problem"), _quoted(_cell(column))
    wrong = f" is not a time in column {column.name}. Expected an ISO 8601 time."
    return [
        *((problem == known, text + words.format(column.name)) for known, words in TIME_PROBLEMS.items()),
        (problem.is_not_null(), text + wrong),
    ]


def _booking_faults() -> list[Fault]:
    on_air = pl.col("own_role").is_in(ON_AIR_ROLES)
    faults: list[Fault] = [
        (
            on_air & pl.col(f"own_{name}").is_null(),
            pl.format(f"The cell {name} is empty. Every booking for {{}} needs one.", pl.col("own_role")),
        )
        for name in ("transmission", "channel")
    ]
    starts, ends = pl.col("own_starts"), pl.col("own_ends")
    backwards = pl.col("ends_at_utc") <= pl.col("starts_at_utc")
    return [*faults, (backwards, pl.format(NOT_AFTER, _quoted(starts), _quoted(ends)))]


def _quoted(cell: pl.Expr) -> pl.Expr:
    """The cell in quotes, on one line, cut to what a reader needs to find it."""
    start = cell.str.head(LONGEST_QUOTE).str.replace_all(r"\s", " ")
    dots = pl.when(cell.str.len_chars() > LONGEST_QUOTE).then(pl.lit("…")).otherwise(pl.lit(""))
    return pl.concat_str(pl.lit('"'), start, dots, pl.lit('"'))


def _extra(feed: Feed, headers: Sequence[str]) -> pl.Expr:
    """Recorded cells of other columns as JSON text, sorted by name so that the order of columns decides nothing."""
    known = {column.name for column in feed.columns}
    others = sorted((header, cell_name(k)) for k, header in enumerate(headers) if header not in known)
    if not others:
        return pl.lit(None, pl.String).alias("extra")
    pairs = [_json_pair(header, pl.col(name)) for header, name in others]
    joined = pl.concat_str(pairs, separator=",", ignore_nulls=True)
    return pl.when(joined != "").then(pl.concat_str(pl.lit("{"), joined, pl.lit("}"))).alias("extra")


def _json_pair(header: str, cell: pl.Expr) -> pl.Expr:
    pair = pl.struct(cell.alias(header)).struct.json_encode().str.strip_prefix("{").str.strip_suffix("}")
    return pl.when(cell.is_not_null()).then(pair)
