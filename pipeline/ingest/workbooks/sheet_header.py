"""Finds the header of a sheet, and rows further down that are a header again, and names the columns by it.

A sheet has a title above its header, notes beside its table, and a header again where somebody put two tables in one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest.batch import CELLS, check_width, clean_headers
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.text.csv_reader import HEADER_AGAIN, MOST_HEADERS, NEW_HEADER
from pipeline.ingest.text.header import SEARCHED_LINES, nearest_headers


@dataclass(frozen=True)
class SheetHeader:
    """The row of the header, 0 if there is none, and the texts of its cells, one for each column in use.

    ``is_wanted`` says whether it holds all columns wanted.
    """

    line: int
    cells: tuple[str, ...]
    is_wanted: bool


@dataclass(frozen=True)
class Stretch:
    """Rows that stand under one header: those that are a header again are among them, with why they are no rows."""

    names: tuple[str, ...]
    columns: tuple[str, ...]
    rows: pl.DataFrame
    headings: dict[int, str]


def find_sheet_header(rows: pl.DataFrame, file: str, dialect: Dialect) -> SheetHeader:
    """The header among ``rows``, of which there is one at least: the row that ``dialect`` says, or the first to hold
    all columns wanted, spelled exactly before but for letter case, or most of them if at least half, or the first.

    Raises:
        FeedError: it is not where ``header_row`` says.
    """
    if dialect.header_row == 0:
        return SheetHeader(0, ("",) * (rows.width - 1), is_wanted=not dialect.wanted)
    if dialect.header_row:
        return _header(_row_at(rows, file, dialect.header_row), dialect)
    top = [_header(row, dialect) for row in _rows_of(rows.filter(pl.col("line") <= SEARCHED_LINES))]
    exact = [each for each in top if set(dialect.wanted) <= set(each.cells)]
    hits = exact or [top[k] for k in nearest_headers([each.cells for each in top], dialect.wanted)]
    return [*hits, *top, _header(next(_rows_of(rows.head(1))), dialect)][0]


def stretches_of(rows: pl.DataFrame, file: str, header: SheetHeader, dialect: Dialect) -> list[Stretch]:
    """The rows below the header, parted where a new header stands; a column without a name is called by its place.

    Raises:
        FeedError: a header names a column twice, or there are too many columns or headers.
    """
    below = rows.filter(pl.col("line") > header.line)
    parts: list[tuple[SheetHeader, dict[int, str]]] = [(header, {})]
    for heading in _headings(below, header, dialect):
        if heading.cells == parts[-1][0].cells:
            parts[-1][1][heading.line] = HEADER_AGAIN
        else:
            parts.append((heading, {heading.line: NEW_HEADER}))
    if len(parts) > MOST_HEADERS:
        why = f"changes its header more than {MOST_HEADERS:,} times"
        raise FeedError(f"{file} {why}. Is it the export it is named for?")
    ends = [*(each.line for each, _ in parts[1:]), int(rows["line"][-1]) + 1]
    firsts = [header.line + 1, *ends[:-1]]
    return [
        _stretch(below.filter(pl.col("line").is_between(first, end, closed="left")), file, each, headings)
        for first, end, (each, headings) in zip(firsts, ends, parts, strict=True)
    ]


def _stretch(rows: pl.DataFrame, file: str, header: SheetHeader, headings: dict[int, str]) -> Stretch:
    """The rows with those of their columns that have a name or a cell."""
    filled = rows.filter(~pl.col("line").is_in(list(headings))).select(CELLS.is_not_null().any()).row(0)
    kept = [
        (column, text or f"column {int(column.partition('_')[2]) + 1}")
        for column, text, is_filled in zip(rows.columns[1:], header.cells, filled, strict=True)
        if text or is_filled
    ]
    check_width(file, len(kept))
    names = clean_headers(file, [name for _, name in kept])
    columns = tuple(column for column, _ in kept)
    return Stretch(names, columns, rows.select("line", *columns), headings)


def _rows_of(rows: pl.DataFrame) -> Iterator[tuple[int, tuple[str, ...]]]:
    for line, *cells in rows.iter_rows():
        yield line, tuple((cell or "").strip() for cell in cells)


def _header(row: tuple[int, tuple[str, ...]], dialect: Dialect) -> SheetHeader:
    line, cells = row
    return SheetHeader(line, cells, is_wanted=_folded(dialect.wanted) <= _folded(cells))


def _row_at(rows: pl.DataFrame, file: str, line: int) -> tuple[int, tuple[str, ...]]:
    last = rows["line"][-1]
    if line > last:
        raise FeedError(f"{file} has no row {line} for its header, only {last}. Mend header_row in site.toml.")
    for found in _rows_of(rows.filter(pl.col("line") == line)):
        return found
    raise FeedError(f"{file}, row {line} is empty. Expected the header there. Mend header_row in site.toml.")


def _headings(below: pl.DataFrame, header: SheetHeader, dialect: Dialect) -> list[SheetHeader]:
    """Rows that equal the header, or hold all columns wanted: one name alone may be a word of any row."""
    named = [cell for cell in header.cells if cell]
    if not named:
        return []
    rarest = max(dialect.wanted or named, key=len).lower()
    holds = pl.any_horizontal(CELLS.str.strip_chars().str.to_lowercase() == rarest).fill_null(value=False)
    found = [_header(row, dialect) for row in _rows_of(below.filter(holds))]
    return [each for each in found if each.cells == header.cells or (each.is_wanted and _shares(each, header, dialect))]


def _shares(heading: SheetHeader, header: SheetHeader, dialect: Dialect) -> bool:
    names: Sequence[str] = (*header.cells, *dialect.wanted)
    return bool(dialect.wanted) and len((_folded(heading.cells) & _folded(names)) - {""}) > 1


def _folded(names: Iterable[str]) -> set[str]:
    return {name.lower() for name in names}
