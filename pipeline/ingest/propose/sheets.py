"""Chooses the sheet of a workbook that holds the rows, and the line of its header, among titles and notes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from statistics import median

import polars as pl

from pipeline.errors import FeedError, unreadable
from pipeline.ingest.batch import CELLS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.propose.candidates import find_candidates
from pipeline.ingest.propose.delimited import Record, find_header_line
from pipeline.ingest.propose.kinds import best_score
from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.toml_text import shown, text_value
from pipeline.ingest.propose.traits import describe
from pipeline.ingest.workbooks.sheet_rows import WorkbookError
from pipeline.ingest.workbooks.workbook import Workbook, open_workbook

MOST_SHEETS = 20
ROWS_LOOKED_AT = 300
MOST_COLUMNS = 300
MARGIN = 0.1


@dataclass(frozen=True)
class Tab:
    """One sheet with rows: its name, the line of its header (0 without one), and how like a feed its columns are."""

    name: str
    header_line: int
    score: float


@dataclass(frozen=True)
class ChosenSheet:
    """The sheet that is proposed, its keys, and the day system of the workbook where it has one."""

    name: str
    header_line: int
    findings: Findings
    day_system: str


def choose_sheet(found: FoundFile, kind: str) -> ChosenSheet:
    """The sheet whose columns are most like those of a feed, of ``kind`` if it is given.

    Raises:
        FeedError: the workbook cannot be read, or no sheet of it holds rows.
    """
    try:
        book = open_workbook(found.path)
        visible = [sheet for sheet in book.sheets if sheet.is_visible]
        tabs = [
            tab
            for sheet in visible[:MOST_SHEETS]
            for tab in [_tab(sheet.name, book.rows(sheet).head(ROWS_LOOKED_AT), found.file, kind)]
            if tab is not None
        ]
    except (WorkbookError, OSError) as error:
        raise unreadable(found.file, error) from None
    if not tabs:
        raise FeedError(f'"{found.file}" has no sheet with rows. Expected a header and a line a row.')
    best = max(tabs, key=lambda tab: tab.score)
    return ChosenSheet(best.name, best.header_line, _findings(best, tabs), _day_system(book))


def _tab(name: str, rows: pl.DataFrame, file: str, kind: str) -> Tab | None:
    cells = rows.select(CELLS).fill_null("")
    numbered = zip(rows["line"].to_list(), cells.iter_rows(), strict=True)
    records = [Record(line, tuple(row)) for line, row in numbered if any(row)]
    if not records:
        return None
    usual = median(sum(cell != "" for cell in record.cells) for record in records)
    line = find_header_line(records, cells.width, usual)
    headers = next((record.cells for record in records if record.line == line), ("",) * cells.width)
    below = [record.cells for record in records if record.line > line]
    columns = [
        describe(header, place, Counter(row[place] for row in below if row[place]))
        for place, header in enumerate(headers[:MOST_COLUMNS])
    ]
    return Tab(name, line, best_score(file, find_candidates(columns), kind) if below else 0.0)


def _findings(best: Tab, tabs: list[Tab]) -> Findings:
    others = [tab.name for tab in tabs if tab is not best]
    why = f"its columns are most like ours; beside it {', '.join(map(shown, others[:5]))}" if others else "the only one"
    settings = [
        Setting("sheet", text_value(best.name), why),
        Setting("header_row", str(best.header_line), "the first line as wide as the rows whose cells are names"),
    ]
    if not best.header_line:
        settings[1] = Setting("header_row", "0", "no line above the rows holds names only")
    alike = [tab.name for tab in tabs if tab is not best and tab.score > best.score - MARGIN]
    if not alike:
        return Findings(tuple(settings))
    told = f"sheet: {', '.join(map(shown, alike[:5]))} may be read as well. Write a table for each that counts."
    return Findings(tuple(settings), undecided=(told,))


def _day_system(book: Workbook) -> str:
    """From which day the workbook counts, where it is of a make that says so."""
    is_1904 = getattr(book, "is_1904", None)
    return "" if is_1904 is None else "serial_1904" if is_1904 else "serial_1900"
