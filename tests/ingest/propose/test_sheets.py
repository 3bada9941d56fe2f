"""The sheet and the header line of workbooks that the library of another maker writes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from pipeline.errors import FeedError
from pipeline.ingest.feeds import TICKETS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.propose.sheets import choose_sheet

HEADER = ["Ticket", "Machine", "Opened", "Fault"]
ROWS = [[f"F{k}", f"VT{k % 3 + 1}", datetime(2031, 3, k + 1, 9), "no sound"] for k in range(20)]  # noqa: DTZ001 - wall


def _book(path: Path, sheets: dict[str, list[list[object]]]) -> FoundFile:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return FoundFile(path, path.name, TICKETS, "excel", "")


def test_the_sheet_whose_columns_are_like_ours(tmp_path: Path) -> None:
    notes = [["Call the office"], ["on Mondays"]]
    found = _book(tmp_path / "a.xlsx", {"Notes": notes, "Empty": [], "Faults": [["Faults 2031"], [], HEADER, *ROWS]})
    chosen = choose_sheet(found, "")
    assert (chosen.name, chosen.header_line, chosen.day_system) == ("Faults", 3, "serial_1900")
    assert chosen.findings.undecided == ()


def test_two_sheets_that_are_alike_are_said(tmp_path: Path) -> None:
    found = _book(tmp_path / "a.xlsx", {"March": [HEADER, *ROWS], "April": [HEADER, *ROWS]})
    chosen = choose_sheet(found, "tickets")
    assert chosen.name == "March"
    assert chosen.findings.undecided == ('sheet: "April" may be read as well. Write a table for each that counts.',)


def test_rows_without_a_header(tmp_path: Path) -> None:
    assert choose_sheet(_book(tmp_path / "a.xlsx", {"A": ROWS}), "tickets").header_line == 0


def test_a_workbook_without_rows(tmp_path: Path) -> None:
    with pytest.raises(FeedError, match="has no sheet with rows"):
        choose_sheet(_book(tmp_path / "a.xlsx", {"A": []}), "")
