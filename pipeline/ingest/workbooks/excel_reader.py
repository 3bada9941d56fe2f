"""Reads a sheet of a workbook, .xlsx, .xlsm, .xlsb, .xls or .ods, as the same text cells a CSV would have had."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import polars as pl

from pipeline.errors import FeedError, unreadable
from pipeline.ingest.batch import CELLS, FINDING_SCHEMA, Batch, all_aside, aside_rows
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.frame_cells import batch_of
from pipeline.ingest.text.csv_reader import ABOVE_HEADER
from pipeline.ingest.workbooks.sheet_header import SheetHeader, Stretch, find_sheet_header, stretches_of
from pipeline.ingest.workbooks.sheet_rows import Sheet, WorkbookError
from pipeline.ingest.workbooks.workbook import Workbook, open_workbook

CELLS_IN_A_BATCH = 2_000_000
SHOWN = 30
CHOSEN = 'Of {} sheets "{}" is read: it is the first that holds the columns. Name it as sheet to be sure of it.'
FALLBACK = 'Of {} sheets "{}" is read: none holds all the columns. Name the right one as sheet.'


def read_excel(path: Path, file: str, dialect: Dialect, sheet: str = "") -> Iterator[Batch]:
    """The rows of a sheet in batches; none if it holds nothing. ``line`` is the row as the sheet numbers it.

    ``sheet`` is its name or its number from 1. Left out, it is the first that holds the columns wanted, those that are
    shown before those that are hidden. ``text`` is the row's cells as JSON. A row further down that is the header again
    is set aside; so is one that is a new header, and a batch of its own begins. Empty rows are no rows.

    Raises:
        FeedError: it is no workbook, is damaged, protected or too large, has no such sheet, or its header names a
            column twice or is not where ``header_row`` says.
    """
    try:
        book = open_workbook(path)
        chosen, rows = _named(book, file, sheet) if sheet else _first_wanted(book, file, dialect)
    except OSError as error:
        raise unreadable(file, error) from None
    except WorkbookError as error:
        raise unreadable(file, str(error)) from None
    if rows.is_empty():
        return
    header = find_sheet_header(rows, file, dialect)
    findings = _findings(book, chosen, rows, header, is_named=bool(sheet))
    for stretch in stretches_of(rows, file, header, dialect):
        for batch in _batches(stretch):
            yield replace(batch, findings=findings)
            findings = findings.clear()


def _named(book: Workbook, file: str, sheet: str) -> tuple[Sheet, pl.DataFrame]:
    equal = [each for each in book.sheets if each.name == sheet]
    like = [each for each in book.sheets if each.name.lower() == sheet.lower()]
    numbered = [each for each in book.sheets if str(each.place + 1) == sheet]
    for each in (*equal, *like, *numbered):
        return each, _tidy(book.rows(each))
    names = ", ".join(f'"{each.name[:60]}"' for each in book.sheets[:SHOWN]) or "none"
    more = f" and {len(book.sheets) - SHOWN} more" if len(book.sheets) > SHOWN else ""
    raise FeedError(f'{file} has no sheet "{sheet[:60]}". It has: {names}{more}. Mend sheet in its [[feeds]] table.')


def _first_wanted(book: Workbook, file: str, dialect: Dialect) -> tuple[Sheet, pl.DataFrame]:
    if not book.sheets:
        raise WorkbookError("it has no sheet")
    filled: list[tuple[Sheet, pl.DataFrame]] = []
    for sheet in sorted(book.sheets, key=lambda each: not each.is_visible):
        rows = _tidy(book.rows(sheet))
        if rows.is_empty():
            continue
        if len(book.sheets) == 1 or _holds_wanted(rows, file, dialect):
            return sheet, rows
        filled = filled or [(sheet, rows)]
    return filled[0] if filled else (book.sheets[0], pl.DataFrame(schema={"line": pl.Int64}))


def _holds_wanted(rows: pl.DataFrame, file: str, dialect: Dialect) -> bool:
    try:
        return find_sheet_header(rows, file, dialect).is_wanted
    except FeedError:  # the header may be there on another sheet
        return False


def _tidy(rows: pl.DataFrame) -> pl.DataFrame:
    """``rows`` with line ends as everywhere."""
    return rows.with_columns(CELLS.str.replace_all(r"\r\n?", "\n")) if rows.width > 1 else rows


def _batches(stretch: Stretch) -> Iterator[Batch]:
    step = max(1, CELLS_IN_A_BATCH // max(1, len(stretch.columns)))
    for start in range(0, max(1, stretch.rows.height), step):
        part = stretch.rows.slice(start, step)
        batch = batch_of(part.drop("line"), stretch.names, part["line"])
        yield _without_headings(batch, stretch.headings)


def _without_headings(batch: Batch, headings: dict[int, str]) -> Batch:
    if not headings:
        return batch
    is_heading = pl.col("line").is_in(list(headings))
    found = batch.rows.filter(is_heading)
    reasons = pl.Series([headings[line] for line in found["line"]], dtype=pl.String)
    aside = all_aside([batch.aside, aside_rows(found["line"], found["text"], reasons)])
    return replace(batch, rows=batch.rows.filter(~is_heading), aside=aside)


def _findings(book: Workbook, sheet: Sheet, rows: pl.DataFrame, header: SheetHeader, *, is_named: bool) -> pl.DataFrame:
    found: list[tuple[int, str, str]] = []
    above = rows.filter(pl.col("line") < header.line).height
    if above:
        found.append((header.line, "above_header", ABOVE_HEADER.format(above)))
    if not is_named and len(book.sheets) > 1:
        said = CHOSEN if header.is_wanted else FALLBACK
        found.append((header.line, "decided", said.format(len(book.sheets), sheet.name)))
    return pl.DataFrame(found, schema=FINDING_SCHEMA, orient="row")
