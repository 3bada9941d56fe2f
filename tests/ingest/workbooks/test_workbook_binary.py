"""Binary workbooks, written record by record by [MS-XLS] and [MS-XLSB], also such as end the library's process.

A cell that holds an error reads as empty: the library has no text for it.
"""

from __future__ import annotations

import struct
from pathlib import Path

import polars as pl
import pytest

from pipeline.ingest.workbooks.sheet_rows import WorkbookError
from pipeline.ingest.workbooks.workbook import open_workbook
from tests.ingest.workbooks import xls_writer as xls
from tests.ingest.workbooks import xlsb_writer as xlsb

# 21:04 is 1264 of a day's 1440 minutes, 25:15 are 25.25 of a day's 24 hours. Serials: ECMA-376 part 1, 18.17.4.1.
EVENING = 1264 / 1440
EXPECTED = [
    (3, "Nr", "at", "lasted"),
    (4, "17", "2026-01-01T21:04:00", "25:15:00"),
    (5, None, "true", "21:04:00"),
    (10, "0.1", "1e-12", "2026-01-01"),
]


def _xls(day: int) -> bytes:
    """The same table as ``_xlsb``, whose errors have the codes 7, 42 and 29 of BErr."""
    head = xls.dimensions(12, 4) + xls.label(2, 1, "Nr") + xls.label(2, 2, "at") + xls.label(2, 3, "lasted")
    first = xls.number(3, 1, 17) + xls.number(3, 2, day + EVENING, xls.DATE) + xls.number(3, 3, 25.25 / 24, xls.ELAPSED)
    second = xls.error(4, 1, 7) + xls.flag(4, 2, True) + xls.number(4, 3, EVENING, xls.DATE)
    third = xls.formula_error(6, 1, 42) + xls.number(9, 1, 0.1) + xls.number(9, 2, 1e-12)
    return head + first + second + third + xls.number(9, 3, day, xls.DATE) + xls.error(11, 3, 29)


def _xlsb(path: Path) -> None:
    rows = [
        (2, [xlsb.cell(1, "Nr"), xlsb.cell(2, "at"), xlsb.cell(3, "lasted")]),
        (3, [xlsb.cell(1, 17), xlsb.cell(2, 46023 + EVENING, xlsb.DATE), xlsb.cell(3, 25.25 / 24, xlsb.ELAPSED)]),
        (4, [xlsb.cell(1, (7,)), xlsb.cell(2, value=True), xlsb.cell(3, EVENING, xlsb.DATE)]),
        (6, [xlsb.formula_error(1, 42)]),
        (9, [xlsb.cell(1, 0.1), xlsb.cell(2, 1e-12), xlsb.cell(3, 46023, xlsb.DATE)]),
        (11, [xlsb.cell(3, (29,))]),
    ]
    xlsb.write_xlsb(path, rows)


def _rows(path: Path, place: int = 0) -> pl.DataFrame:
    book = open_workbook(path)
    return book.rows(book.sheets[place])


@pytest.mark.parametrize(("is_1904", "day"), [(False, 46023), (True, 44561)])
def test_every_cell_of_an_xls_but_errors_is_kept(tmp_path: Path, is_1904: bool, day: int) -> None:
    path = tmp_path / "a.xls"
    path.write_bytes(xls.xls({"T": _xls(day)}, is_1904=is_1904))
    frame = _rows(path)
    assert frame.columns == ["line", "cell_1", "cell_2", "cell_3"]
    assert frame.rows() == EXPECTED


def test_every_cell_of_an_xlsb_but_errors_is_kept(tmp_path: Path) -> None:
    _xlsb(tmp_path / "a.xlsb")
    frame = _rows(tmp_path / "a.xlsb")
    assert frame.columns == ["line", "cell_1", "cell_2", "cell_3"]
    last = (10, "0.1", "1e-12", "46023")  # the library forgets the format of a whole number
    assert frame.rows() == [*EXPECTED[:-1], last]


def test_sheets_by_their_tabs(tmp_path: Path) -> None:
    path = tmp_path / "a.xls"
    path.write_bytes(xls.xls({"One": b"", "Two": xls.integers(5, 2, [1, 2, 3])}))
    assert [(sheet.name, sheet.place, sheet.is_visible) for sheet in open_workbook(path).sheets] == [
        ("One", 0, True),
        ("Two", 1, True),
    ]
    assert _rows(path, 0).is_empty()
    assert _rows(path, 1).rows() == [(6, "1", "2", "3")]


UNREAD = "it is damaged, or takes more than 8 GiB of memory to read, as one with a cell far from its table does"
PROTECTED = "it is protected by a password. Save it without one"


def test_a_cell_far_from_the_table_is_refused(tmp_path: Path) -> None:
    """The library would take 32 bytes for each of 17,179,869,184 cells, and ends its process."""
    path = tmp_path / "a.xlsb"
    xlsb.write_xlsb(path, [(0, [xlsb.cell(0, "Nr")]), (1_048_575, [xlsb.cell(16_383, "x")])])
    with pytest.raises(WorkbookError, match=f"^{UNREAD}$"):
        _rows(path)


def test_a_far_cell_of_an_xls_is_read(tmp_path: Path) -> None:
    """Its largest sheet has 65,536 rows and 256 columns, 16,777,216 cells; here only its last column's width."""
    path = tmp_path / "a.xls"
    path.write_bytes(xls.xls({"T": xls.label(0, 0, "Nr") + xls.label(65_535, 3, "x")}))
    assert _rows(path).rows() == [(1, "Nr", None, None, None), (65_536, None, None, None, "x")]


HUGE = xls.record(0x0200, struct.pack("<IIHHH", 0, 0xFFFFFFF0, 0, 0xFFF0, 0))
BACKWARDS = xls.record(0x0200, struct.pack("<IIHHH", 9, 2, 0, 3, 0))
WIDE = xls.record(0x0200, struct.pack("<IIHHH", 0, 1_048_576, 0, 256, 0))


@pytest.mark.parametrize(
    ("sheet", "extra", "why"),
    [
        (HUGE, b"", UNREAD),
        (BACKWARDS, b"", UNREAD),
        (WIDE, b"", UNREAD),
        (b"", xls.record(0x002F, b"\x01\x00" * 3), PROTECTED),
        (xls.record(0x0203, b"\x00"), b"", UNREAD),
        (xls.record(0x0006, bytes(14)), b"", UNREAD),
    ],
)
def test_an_xls_made_to_end_the_program_is_refused(tmp_path: Path, sheet: bytes, extra: bytes, why: str) -> None:
    path = tmp_path / "a.xls"
    path.write_bytes(xls.xls({"T": sheet + xls.label(0, 0, "Nr")}, extra))
    with pytest.raises(WorkbookError, match=f"^{why}$"):
        _rows(path)


def test_a_sheet_that_has_no_end_is_refused(tmp_path: Path) -> None:
    stream = xls.workbook({"T": xls.label(0, 0, "x" * 2000)})
    path = tmp_path / "a.xls"
    path.write_bytes(xls.compound({"Workbook": stream[:-10].ljust(4096, b"\x01")}))
    with pytest.raises(WorkbookError, match=f"^{UNREAD}$"):
        _rows(path)


@pytest.mark.parametrize("keep", [0.2, 0.5, 0.9])
def test_part_of_a_file_is_refused_in_plain_words(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], keep: float
) -> None:
    long = xls.xls({"T": b"".join(xls.number(row, 0, row) for row in range(3000))})
    (tmp_path / "a.xls").write_bytes(long)
    _xlsb(tmp_path / "a.xlsb")
    for path in (tmp_path / "a.xls", tmp_path / "a.xlsb"):
        path.write_bytes(path.read_bytes()[: int(path.stat().st_size * keep)])
        with pytest.raises(WorkbookError, match=r"^it is (damaged, or .*|no workbook, or a part of one.*)$"):
            _rows(path)
    assert capfd.readouterr().err == ""
