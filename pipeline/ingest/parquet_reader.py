"""Reads Parquet, with typed or text columns, as the same text cells a CSV would have had."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import polars as pl
from polars.exceptions import PanicException, PolarsError

from pipeline.ingest.batch import (
    CELLS,
    HOLDS_NUL,
    NOT_UTF8,
    NUL,
    Batch,
    all_aside,
    aside_rows,
    cell_name,
    clean_headers,
    tidy_cells,
)
from pipeline.ingest.find import FoundFile, unreadable

CELLS_IN_A_BATCH = 2_000_000
INSTANT = "%Y-%m-%dT%H:%M:%S%.f"  # fraction digits as needed: none, 3, 6 or 9


def read_parquet(found: FoundFile) -> Iterator[Batch]:
    """The rows of a Parquet file in batches; ``line`` is the row's number from 1, ``text`` its cells as JSON.

    Times become ISO 8601 text, with a Z where the column has a zone; nested values JSON text.

    Raises:
        FeedError: the file is no Parquet file, or holds a type that has no text form.
    """
    try:
        yield from _read(found.path, found.file)
    except (OSError, PolarsError, PanicException) as error:
        raise unreadable(found.file, error) from None


def _read(path: Path, file: str) -> Iterator[Batch]:
    scan = pl.scan_parquet(path, glob=False)
    names = scan.collect_schema().names()
    headers = clean_headers(file, names)
    if not headers:
        yield Batch((), pl.DataFrame(), pl.DataFrame())
        return
    height = int(scan.select(pl.len()).collect().item())
    step = CELLS_IN_A_BATCH // len(headers)
    for start in range(0, max(height, 1), step):
        frame = scan.slice(start, step).collect()
        frame = frame.rename({name: cell_name(k) for k, name in enumerate(names)})
        yield _batch(frame, headers, start + 1)


def _batch(frame: pl.DataFrame, headers: tuple[str, ...], first: int) -> Batch:
    texts, damaged = _as_text(frame)
    named = pl.struct(pl.col(column).alias(header) for column, header in zip(frame.columns, headers, strict=True))
    rows = texts.select(
        (pl.int_range(pl.len()) + first).cast(pl.Int64).alias("line"), named.struct.json_encode().alias("text"), CELLS
    )
    nul = texts.select(pl.any_horizontal(CELLS.str.contains(NUL, literal=True).fill_null(value=False))).to_series()
    aside = [_aside(rows, damaged, NOT_UTF8), _aside(rows, nul & ~damaged, HOLDS_NUL)]
    return Batch(headers, tidy_cells(rows.filter(~(nul | damaged))), all_aside(aside))


def _aside(rows: pl.DataFrame, which: pl.Series, reason: str) -> pl.DataFrame:
    chosen = rows.filter(which)
    return aside_rows(chosen["line"], chosen["text"], reason)


def _as_text(frame: pl.DataFrame) -> tuple[pl.DataFrame, pl.Series]:
    """Every column as text, and which rows hold bytes that are not UTF-8."""
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


def _series_as_text(series: pl.Series) -> pl.Series:
    kind = series.dtype
    if isinstance(kind, pl.Datetime):
        zone = "Z" if kind.time_zone else ""
        plain = series.dt.convert_time_zone("UTC").dt.replace_time_zone(None) if zone else series
        return plain.dt.strftime(INSTANT + zone)
    if kind.is_float():
        return series.cast(pl.String).str.strip_suffix(".0")  # whole numbers beside empty cells are stored as floats
    if kind.is_nested():
        values = series.to_list()
        return pl.Series(
            series.name, [None if v is None else json.dumps(v, default=str, sort_keys=True) for v in values]
        )
    return series.cast(pl.String)


def _bytes_as_text(series: pl.Series) -> tuple[pl.Series, pl.Series]:
    values = [None if value is None else value.decode("utf-8", "backslashreplace") for value in series.to_list()]
    spoiled = [value is not None and not _is_text(value) for value in series.to_list()]
    return pl.Series(series.name, values, pl.String), pl.Series(spoiled, dtype=pl.Boolean)


def _is_text(data: bytes) -> bool:
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return True
