"""Reads .ods workbooks cell by cell, as OpenDocument 1.3 part 3 has them.

The library that reads the binary workbooks would leave out times of more than a day and cells that hold an error, and
writes out every repetition, of which a short file can name thousands of millions.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from xml.parsers import expat

import polars as pl

from pipeline.ingest.workbooks.sheet_rows import DAMAGED, MOST_COLUMNS, Sheet, SheetRows, WorkbookError
from pipeline.ingest.workbooks.sheet_values import number_text, passed_text, tidy_moment
from pipeline.ingest.workbooks.workbook_package import PROTECTED, Package, open_package

CONTENT = "content.xml"
MANIFEST = "META-INF/manifest.xml"
MOST_SPACES = 10_000_000  # written as a number, so that a short file can hold any
PASSED = re.compile(r"(-?)P(?:([0-9]+)D)?(?:T(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+(?:\.[0-9]+)?)S)?)?")
CELLS = ("table:table-cell", "table:covered-table-cell")
NOT_CELL_TEXT = ("office:annotation", "draw:frame", "draw:custom-shape", "table:table")  # stand inside cells
SPACES = {"text:tab": "\t", "text:line-break": "\n"}


@dataclass(frozen=True)
class OdfBook:
    """A workbook by its path."""

    path: Path
    sheets: tuple[Sheet, ...]

    def rows(self, sheet: Sheet) -> pl.DataFrame:
        """The rows of ``sheet`` that hold something, as ``SheetRows`` has them.

        Raises:
            WorkbookError: it is damaged or too large.
        """
        with open_package(self.path) as package:
            cells = _Cells(sheet.place)
            package.parse(CONTENT, cells.start, cells.end, cells.parser)
        return cells.rows.frame()


def open_odf(path: Path) -> OdfBook:
    """The workbook at ``path``.

    Raises:
        WorkbookError: it is damaged, protected or too large.
    """
    with open_package(path) as package:
        if MANIFEST in package.names and b"encryption-data" in package.read(MANIFEST):
            raise WorkbookError(PROTECTED)
        return OdfBook(path, tuple(_sheets(package)))


def _sheets(package: Package) -> list[Sheet]:
    found: list[Sheet] = []
    hidden: set[str] = set()
    style = [""]
    depth = [0]

    def start(tag: str, given: dict[str, str]) -> None:
        if tag == "style:style":
            style[0] = given.get("style:name", "")
        elif tag == "style:table-properties" and given.get("table:display") == "false":
            hidden.add(style[0])
        elif tag == "table:table":
            depth[0] += 1
            if depth[0] == 1:
                is_visible = given.get("table:style-name") not in hidden
                found.append(Sheet(given.get("table:name", ""), len(found), is_visible))

    def end(tag: str) -> None:
        depth[0] -= tag == "table:table"

    package.parse(CONTENT, start, end)
    return found


class _Cells:
    """The cells of the sheet number ``wanted``, one after the other."""

    def __init__(self, wanted: int) -> None:
        self.rows = SheetRows()
        self.parser = expat.ParserCreate()
        self._to_pass = wanted
        self._depth = 0  # of tables within tables
        self._line, self._times, self._column = 1, 1, 0
        self._row: dict[int, str] = {}
        self._cell: dict[str, str] | None = None
        self._paragraphs: list[str] = []
        self._text: list[str] = []
        self._spaces = 0
        self._aside = 0  # depth within what stands in a cell and is not its text

    def start(self, tag: str, given: dict[str, str]) -> None:
        if tag == "table:table":
            self._depth += 1
        if self._to_pass or not self._depth:
            return
        if self._cell is not None:
            self._start_in_cell(tag, given)
        elif tag == "table:table-row":
            self._times, self._column, self._row = _repeats(given, "table:number-rows-repeated"), 0, {}
        elif tag in CELLS:
            self._cell, self._paragraphs = given, []

    def _start_in_cell(self, tag: str, given: dict[str, str]) -> None:
        if self._aside or tag in NOT_CELL_TEXT:
            self._aside += 1
        elif tag == "text:p":
            self._text = []
            self.parser.CharacterDataHandler = self._text.append
        elif tag == "text:s":
            self._spaces += _repeats(given, "text:c")
            if self._spaces > MOST_SPACES:
                raise WorkbookError(DAMAGED)
            self._text.append(" " * _repeats(given, "text:c"))
        elif tag in SPACES:
            self._text.append(SPACES[tag])

    def end(self, tag: str) -> None:
        if tag == "table:table":
            self._depth -= 1
            self._to_pass -= not self._depth
        if self._to_pass or not self._depth:
            return
        if self._aside:
            self._aside -= 1
        elif tag == "text:p" and self._cell is not None:
            self.parser.CharacterDataHandler = None
            self._paragraphs.append("".join(self._text))
        elif tag in CELLS and self._cell is not None:
            self._close_cell(self._cell)
        elif tag == "table:table-row":
            self.rows.add(self._line, self._row, self._times)
            self._line += self._times

    def _close_cell(self, given: dict[str, str]) -> None:
        text = _value(given, "\n".join(self._paragraphs))
        times = _repeats(given, "table:number-columns-repeated")
        if text:
            if self._column + times > MOST_COLUMNS:
                raise WorkbookError(DAMAGED)
            self._row.update(dict.fromkeys(range(self._column, self._column + times), text))
        self._column += times
        self._cell = None


def _repeats(given: dict[str, str], name: str) -> int:
    return max(int(given.get(name, 1)), 1)


def _value(given: dict[str, str], text: str) -> str:
    """What a cell holds: its value, or what it shows where that is all it has, as a text or an error."""
    kind = given.get("office:value-type", "")
    if given.get("calcext:value-type") == "error" or not kind:
        return text
    if kind == "date":
        return tidy_moment(given.get("office:date-value", text))
    if kind == "time":
        return _passed(given.get("office:time-value", text))
    if kind == "boolean":
        return given.get("office:boolean-value", text).lower()
    if kind == "string":
        return given.get("office:string-value", text)
    return number_text(given["office:value"]) if "office:value" in given else text


def _passed(written: str) -> str:
    parts = PASSED.fullmatch(written)
    if parts is None:
        return written
    days, hours, minutes = (int(parts[k] or 0) for k in (2, 3, 4))
    ms = ((days * 24 + hours) * 60 + minutes) * 60_000 + round(float(parts[5] or 0) * 1000)
    return passed_text(-ms if parts[1] else ms)
