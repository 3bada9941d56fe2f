"""Reads .xlsx and .xlsm workbooks through openpyxl, a row at a time.

The library that reads the binary workbooks would leave out cells that hold an error, cannot tell a time that has passed
from a date, and takes room for every cell up to the last one in use, so that a forgotten one ends the program.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

import polars as pl
from openpyxl import load_workbook  # type: ignore[import-untyped]
from openpyxl.cell.read_only import EMPTY_CELL  # type: ignore[import-untyped]
from openpyxl.chartsheet import Chartsheet  # type: ignore[import-untyped]
from openpyxl.styles.numbers import is_datetime  # type: ignore[import-untyped]
from openpyxl.utils.datetime import MAC_EPOCH, to_excel  # type: ignore[import-untyped]

from pipeline.ingest.workbooks.sheet_rows import (
    DAMAGED,
    MOST_CELLS,
    MOST_ROWS,
    TOO_LARGE,
    Sheet,
    SheetRows,
    WorkbookError,
)
from pipeline.ingest.workbooks.sheet_values import DAY_MS, LONGEST_DAYS, moment_text, number_text, passed_text
from pipeline.ingest.workbooks.workbook_package import Package, open_package

MOST_PLACES = 10 * MOST_CELLS  # empty ones too: the library has one for each up to the last cell of a row
TOO_WIDE = f"{TOO_LARGE}, up to the last cell of each row. Delete what stands far from the table"
UNUSUAL = "it is damaged, or written as few workbooks are; a spreadsheet program may open it and save it anew"
ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")  # ST_Xstring, ECMA-376 part 1, 22.9.2.19
LONGEST_UNTIL = 1960  # 20,000 days from 1900 end in 1954, from 1904 in 1958
MOST_IN_ROW = 1_000_000  # elements; 16,384 cells have about three each
MILLISECOND = timedelta(milliseconds=1)


@dataclass(frozen=True)
class OoxmlBook:
    """A workbook by its bytes, and as the library opened it."""

    data: bytes
    book: Any
    sheets: tuple[Sheet, ...]
    is_1904: bool

    def rows(self, sheet: Sheet) -> pl.DataFrame:
        """The rows of ``sheet`` that hold something, as ``SheetRows`` has them; none for a sheet of a chart.

        Raises:
            WorkbookError: it is damaged or too large.
        """
        found, formulas, places = SheetRows(), _Formulas(self.data, sheet.name), 0
        with _plain_words():
            for line, row in enumerate(_rows(self.book[sheet.name]), start=1):
                places += len(row)
                if places > MOST_PLACES:
                    raise WorkbookError(TOO_WIDE)
                cells = {
                    column: text
                    for column, cell in enumerate(row)
                    if cell is not EMPTY_CELL and (text := _text(cell) or formulas.text_of(cell, line, column))
                }
                found.add(line, cells)
        return found.frame()


def open_ooxml(path: Path) -> OoxmlBook:
    """The workbook at ``path``.

    Raises:
        WorkbookError: it is damaged, or made in a way that the library does not read.
    """
    with open_package(path) as package:
        for name in package.names:
            if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                _check_rows(package, name)
    data = path.read_bytes()
    with _plain_words():
        book = _load(data, data_only=True)
        sheets = [Sheet(name, place, book[name].sheet_state == "visible") for place, name in enumerate(book.sheetnames)]
        return OoxmlBook(data, book, tuple(sheets), is_1904=book.epoch == MAC_EPOCH)


def _check_rows(package: Package, name: str) -> None:
    """Refuse a sheet whose rows go back, which the library would leave out, or are endless, which would take memory."""
    line, elements, row, data = 0, 0, "", ""

    def start(tag: str, given: dict[str, str]) -> None:
        nonlocal line, elements, row, data
        elements += 1
        if row and tag == row:
            before, line, elements = line, int(given.get("r", line + 1)), 0
            if not before < line <= MOST_ROWS:
                raise WorkbookError(UNUSUAL)
        elif row and elements > MOST_IN_ROW:
            raise WorkbookError(UNUSUAL)
        elif not row and tag.endswith("sheetData"):
            row, data = tag.replace("sheetData", "row"), tag

    def end(tag: str) -> None:
        nonlocal row
        if tag == data:  # elements behind it may be called row as well
            row = ""

    package.parse(name, start, end)


class _Formulas:
    """The formulas of a sheet, for cells whose value was never worked out; the sheet is opened when first asked for."""

    def __init__(self, data: bytes, name: str) -> None:
        self._data, self._name = data, name
        self._rows: Iterator[tuple[Any, ...]] | None = None
        self._line = 0
        self._row: tuple[Any, ...] = ()

    def text_of(self, empty: Any, line: int, column: int) -> str:
        """The formula of a cell that has no value; empty if it has none, or it comes to an empty text."""
        if empty.data_type == "str":
            return ""
        if self._rows is None:
            self._rows = _rows(_load(self._data, data_only=False)[self._name])
        while self._line < line:
            self._row = next(self._rows)
            self._line += 1
        cell = self._row[column]
        return str(getattr(cell.value, "text", cell.value)) if cell.data_type == "f" else ""


def _load(data: bytes, *, data_only: bool) -> Any:
    return load_workbook(io.BytesIO(data), read_only=True, data_only=data_only, keep_links=False)


def _rows(sheet: Any) -> Iterator[tuple[Any, ...]]:
    """All rows down to the last in use, each with its cells up to the last one in it."""
    if not isinstance(sheet, Chartsheet):
        sheet.reset_dimensions()  # what the file says of them may be wrong
        yield from sheet.iter_rows()


def _text(cell: Any) -> str:
    value = cell.value
    if isinstance(value, str):
        return _unescaped(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return number_text(str(value))
    if isinstance(value, datetime):
        return _moment(value, cell)
    return "" if value is None else _span(value)


def _span(value: timedelta | time | date) -> str:
    if isinstance(value, timedelta):
        return passed_text(round(value / MILLISECOND))
    if isinstance(value, time) and value.microsecond:
        return value.isoformat("milliseconds")
    return value.isoformat()


def _moment(at: datetime, cell: Any) -> str:
    """A moment, or what has passed where the format has no date and the number is small, as 25:15:00 in ``hh:mm``."""
    if at.year < LONGEST_UNTIL and is_datetime(cell.number_format) == "time":
        days = to_excel(at, cell.parent.parent.epoch)
        if days < LONGEST_DAYS:
            return passed_text(round(days * DAY_MS))
    return moment_text(at)


def _unescaped(text: str) -> str:
    """``text`` with the characters that XML cannot hold in the place of their codes."""
    if "_x" in text:
        text = ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
        text = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    return text


@contextmanager
def _plain_words() -> Iterator[None]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # on styles and extensions, which say nothing of what a cell holds
            yield
    except WorkbookError:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, ParseError):
        raise WorkbookError(DAMAGED) from None
    except Exception:  # the library has no errors of its own for what it does not expect
        raise WorkbookError(UNUSUAL) from None
