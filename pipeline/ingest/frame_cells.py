"""Turns the typed columns of a frame into the text cells a CSV would have had, so that a row is the same in any file.

Parquet files, workbooks and answers of databases come with types of their own; what follows reads text.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

import polars as pl

from pipeline.ingest.batch import CELLS, HOLDS_NUL, NOT_UTF8, NUL, Batch, all_aside, aside_rows, cell_name, tidy_cells
from pipeline.ingest.text.lines import is_text

INSTANT = "%Y-%m-%dT%H:%M:%S%.f"  # fraction digits as needed: none, 3, 6 or 9
CLOCK = "%H:%M:%S%.f"


def batch_of(frame: pl.DataFrame, headers: Sequence[str], lines: pl.Series) -> Batch:
    """The rows of ``frame`` as a batch: its columns, in order, are those of ``headers``; ``lines`` numbers its rows.

    Times become ISO 8601 text, with a Z where the column has a zone, and durations hours, minutes and seconds
    (``25:15:00``); nested values JSON text; whole numbers have no ``.0``. The text of a row is its cells as JSON. Rows
    with a NUL character, or with bytes that are not UTF-8, are set aside.
    """
    texts, damaged = texts_of(frame.rename({name: cell_name(k) for k, name in enumerate(frame.columns)}))
    named = pl.struct(pl.col(column).alias(header) for column, header in zip(texts.columns, headers, strict=True))
    rows = texts.select(lines.cast(pl.Int64).alias("line"), named.struct.json_encode().alias("text"), CELLS)
    nul = texts.select(pl.any_horizontal(CELLS.str.contains(NUL, literal=True).fill_null(value=False))).to_series()
    aside = [_aside(rows, damaged, NOT_UTF8), _aside(rows, nul & ~damaged, HOLDS_NUL)]
    return Batch(tuple(headers), tidy_cells(rows.filter(~(nul | damaged))), all_aside(aside))


def texts_of(frame: pl.DataFrame) -> tuple[pl.DataFrame, pl.Series]:
    """Every column as text, and which rows hold bytes that are not UTF-8 (shown as ``\\xNN``)."""
    damaged = pl.repeat(value=False, n=frame.height, dtype=pl.Boolean, eager=True)
    columns: list[pl.Series] = []
    for series in frame.iter_columns():
        if series.dtype == pl.Binary:
            text, spoiled = _bytes_as_text(series)
            damaged |= spoiled
        else:
            text = _series_as_text(series)
        columns.append(text)
    return pl.DataFrame(columns), damaged


def elapsed_text(milliseconds: pl.Expr) -> pl.Expr:
    """A time that has passed as ``h:mm:ss``, hours at least two digits, with a fraction of the second where needed.

    A time of day is one too: what has passed since midnight. Less than nothing has a minus in front.
    """
    passed = milliseconds.abs()
    sign = pl.when(milliseconds < 0).then(pl.lit("-")).otherwise(pl.lit(""))
    parts = (passed // 3_600_000, passed // 60_000 % 60, passed // 1000 % 60)
    fraction = pl.when(passed % 1000 == 0).then(pl.lit("")).otherwise(pl.format(".{}", _padded(passed % 1000, 3)))
    return pl.format("{}{}:{}:{}{}", sign, *(_padded(part, 2) for part in parts), fraction)


def _padded(number: pl.Expr, width: int) -> pl.Expr:
    return number.cast(pl.String).str.zfill(width)


def _aside(rows: pl.DataFrame, which: pl.Series, reason: str) -> pl.DataFrame:
    chosen = rows.filter(which)
    return aside_rows(chosen["line"], chosen["text"], reason)


def _series_as_text(series: pl.Series) -> pl.Series:
    kind = series.dtype
    if isinstance(kind, pl.BaseExtension):
        return _series_as_text(series.ext.storage())
    if kind.is_temporal():
        return _moments_as_text(series)
    if kind.is_float():
        return series.cast(pl.String).str.strip_suffix(".0")  # whole numbers beside empty cells are stored as floats
    if kind.is_nested():
        return _each(series, lambda value: json.dumps(value, default=str, sort_keys=True, ensure_ascii=False))
    if isinstance(kind, pl.Object):
        return _each(series, str)
    return series.cast(pl.String)


def _moments_as_text(series: pl.Series) -> pl.Series:
    kind = series.dtype
    if isinstance(kind, pl.Datetime) and kind.time_zone:
        return series.dt.convert_time_zone("UTC").dt.replace_time_zone(None).dt.strftime(INSTANT + "Z")
    if kind == pl.Duration:
        milliseconds = series.dt.total_milliseconds().alias(series.name)
        return milliseconds.to_frame().select(elapsed_text(pl.first()).alias(series.name)).to_series()
    return series.dt.strftime({pl.Datetime: INSTANT, pl.Time: CLOCK}.get(type(kind), "%Y-%m-%d"))


def _each(series: pl.Series, text: Callable[[object], str]) -> pl.Series:
    return pl.Series(series.name, [None if value is None else text(value) for value in series.to_list()], pl.String)


def _bytes_as_text(series: pl.Series) -> tuple[pl.Series, pl.Series]:
    values = [None if value is None else value.decode("utf-8", "backslashreplace") for value in series.to_list()]
    spoiled = [value is not None and not is_text(value) for value in series.to_list()]
    return pl.Series(series.name, values, pl.String), pl.Series(spoiled, dtype=pl.Boolean)
