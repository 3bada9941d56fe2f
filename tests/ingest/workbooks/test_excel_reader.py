"""Sheets as rows under their headers, against what openpyxl wrote and counts, and against LibreOffice's own files."""

# ruff: noqa: DTZ001 - a sheet has no zones

from __future__ import annotations

import csv
import shutil
import subprocess
import zipfile
from datetime import date, datetime, time, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.chart import BarChart
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from pipeline.errors import FeedError
from pipeline.ingest.batch import Batch
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.workbooks import excel_reader
from pipeline.ingest.workbooks.excel_reader import read_excel

WANTED = ("ticket", "machine")
EVENING = datetime(2031, 3, 9, 21, 4)


def _save(path: Path, **sheets: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def _read(path: Path, sheet: str = "", **dialect: object) -> list[Batch]:
    return list(read_excel(path, "tickets.xlsx", Dialect(**{"wanted": WANTED, **dialect}), sheet))  # type: ignore[arg-type]


def _cells(batches: list[Batch]) -> list[tuple[object, ...]]:
    return [row for batch in batches for row in batch.rows.drop("text").iter_rows()]


def _aside(batches: list[Batch]) -> list[tuple[object, ...]]:
    return [row for batch in batches for row in batch.aside.iter_rows()]


def _findings(batches: list[Batch]) -> list[tuple[object, ...]]:
    return [row for batch in batches for row in batch.findings.iter_rows()]


@pytest.mark.parametrize("is_1904", [False, True])
def test_every_cell_of_a_mixed_column_is_kept(tmp_path: Path, is_1904: bool) -> None:
    """The same moments in both day systems of ECMA-376 part 1, 18.17.4.1; openpyxl writes the serials."""
    values = [
        (EVENING, "2031-03-09T21:04:00"),
        (EVENING.replace(microsecond=250_000), "2031-03-09T21:04:00.250"),
        (EVENING.replace(second=59, microsecond=999_600), "2031-03-09T21:05:00"),  # to the millisecond
        (date(2026, 1, 1), "2026-01-01"),
        (datetime(2026, 1, 1), "2026-01-01"),
        (time(21, 4), "21:04:00"),
        (timedelta(hours=25, minutes=15), "25:15:00"),
        (46023, "46023"),
        (3.0, "3"),
        (0.04, "0.04"),
        (1e-12, "1e-12"),
        (True, "true"),
        (False, "false"),
        ("#N/A", "#N/A"),
        ("#DIV/0!", "#DIV/0!"),
        ("abt 9", "abt 9"),
        ("0042", "0042"),
        ("1.50", "1.50"),
        (" two\nlines ", "two\nlines"),
        ("NULL", "NULL"),
    ]
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904 if is_1904 else book.epoch
    for row in [["ticket", "machine"], *([k, value] for k, (value, _) in enumerate(values))]:
        book.worksheets[0].append(row)
    book.save(tmp_path / "a.xlsx")
    batches = _read(tmp_path / "a.xlsx")
    assert _cells(batches) == [(k + 2, str(k), text) for k, (_, text) in enumerate(values)]
    assert (_aside(batches), _findings(batches)) == ([], [])


def test_line_is_the_row_that_the_sheet_shows_and_text_the_row(tmp_path: Path) -> None:
    """The table stands at C5, under a title and an empty row, beside a note, and has an empty row and a total."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    cells = {"A2": "Faults", "C5": " ticket ", "D5": "machine", "F5": "h", "C6": 1, "D6": "VT1", "F6": 1.5}
    for place, value in {**cells, "C8": 2, "D8": "VT2", "A9": "a note", "E12": "sum", "F12": 1.5, "D15": " "}.items():
        sheet[place] = value
    book.save(tmp_path / "a.xlsx")
    (batch,) = _read(tmp_path / "a.xlsx")
    assert batch.headers == ("column 1", "ticket", "machine", "column 5", "h")
    assert batch.rows.rows() == [
        (6, '{"column 1":null,"ticket":"1","machine":"VT1","column 5":null,"h":"1.5"}', None, "1", "VT1", None, "1.5"),
        (8, '{"column 1":null,"ticket":"2","machine":"VT2","column 5":null,"h":null}', None, "2", "VT2", None, None),
        (9, '{"column 1":"a note","ticket":null,"machine":null,"column 5":null,"h":null}', "a note", *[None] * 4),
        (12, '{"column 1":null,"ticket":null,"machine":null,"column 5":"sum","h":"1.5"}', *[None] * 3, "sum", "1.5"),
        (15, '{"column 1":null,"ticket":null,"machine":" ","column 5":null,"h":null}', *[None] * 5),
    ]
    assert batch.findings.rows() == [(5, "above_header", "Lines above the header, which are no rows: 1.")]


def test_where_the_header_is(tmp_path: Path) -> None:
    rows = [["Machine", "Ticket"], ["ticket", "x"], ["machine", "ticket", "x"], ["VT1", "1", "2"]]
    path = _save(tmp_path / "a.xlsx", T=rows)
    (exact,) = _read(path)  # comes before one that is spelled otherwise
    assert (exact.headers, _cells([exact])) == (("machine", "ticket", "x"), [(4, "VT1", "1", "2")])
    near = _read(path, wanted=("MACHINE", "TICKET"))
    assert [batch.headers for batch in near] == [("Machine", "Ticket"), ("machine", "ticket", "x")]
    assert _read(path, wanted=("unknown",))[0].headers == ("Machine", "Ticket", "column 3")
    assert _read(path, wanted=())[0].headers == ("Machine", "Ticket", "column 3")
    assert _read(path, header_row=2)[0].headers == ("ticket", "x")
    without = _read(path, header_row=0)
    assert without[0].headers == ("column 1", "column 2", "column 3")
    assert [line for line, *_ in _cells(without)] == [1, 2, 3, 4]


def test_a_header_is_searched_in_the_first_200_rows(tmp_path: Path) -> None:
    for line, found in ((200, ("ticket", "machine")), (201, ("x",))):
        path = _save(tmp_path / "a.xlsx", T=[["x"], *[[]] * (line - 2), ["ticket", "machine"], ["1", "VT1"]])
        assert _read(path)[0].headers == found


def test_a_header_again_is_set_aside_and_a_new_one_is_read_by(tmp_path: Path) -> None:
    rows = [
        *([["ticket", "machine", "h"], [1, "VT1", 2]]),
        *([["ticket", "machine", "h"], [2, "machine", 3]]),
        *([["machine", "cost", "ticket"], ["VT3", 4, 3]]),
        *([["machine", "cost", "ticket"], ["ticket", 1, "machine"]]),  # the last is a row: its names say so
    ]
    batches = _read(_save(tmp_path / "a.xlsx", T=rows))
    assert [batch.headers for batch in batches] == [
        ("ticket", "machine", "h"),
        ("machine", "cost", "ticket"),
        ("ticket", "1", "machine"),
    ]
    assert _cells(batches) == [(2, "1", "VT1", "2"), (4, "2", "machine", "3"), (6, "VT3", "4", "3")]
    assert [(line, reason) for line, _, reason in _aside(batches)] == [
        (3, "header: the line is a header again."),
        (5, "header: the line is a new header; the rows below it are read by it."),
        (7, "header: the line is a header again."),
        (8, "header: the line is a new header; the rows below it are read by it."),
    ]


def test_which_sheet(tmp_path: Path) -> None:
    table = [["ticket", "machine"], ["1", "VT1"]]
    path = _save(tmp_path / "a.xlsx", Notes=[["words"]], Empty=[], Faults=table, Old=[*table, ["2", "VT2"]])
    book = openpyxl.load_workbook(path)
    book.create_chartsheet("Chart", 0).add_chart(BarChart())
    book.save(path)
    chosen = _read(path)
    assert _cells(chosen) == [(2, "1", "VT1")]
    assert _findings(chosen) == [
        (
            1,
            "decided",
            'Of 5 sheets "Faults" is read: it is the first that holds the columns. Name it as sheet to be sure of it.',
        )
    ]
    for name in ("Old", "old", "5"):
        assert (len(_cells(_read(path, name))), _findings(_read(path, name))) == (2, [])
    assert _read(path, "Empty") == _read(path, "Chart") == []
    (fallback,) = _read(path, wanted=("unknown",))
    assert (fallback.headers, _findings([fallback])[0][2][:38]) == (
        ("words",),
        'Of 5 sheets "Notes" is read: none hold',
    )
    with pytest.raises(FeedError) as error:
        _read(path, "Tickets")
    assert str(error.value) == (
        'tickets.xlsx has no sheet "Tickets". It has: "Chart", "Notes", "Empty", "Faults", "Old". '
        "Mend sheet in its [[feeds]] table."
    )


def test_a_hidden_sheet_comes_last(tmp_path: Path) -> None:
    path = _save(
        tmp_path / "a.xlsx", Old=[["ticket", "machine"], ["1", "VT1"]], New=[["ticket", "machine"], ["2", "VT2"]]
    )
    book = openpyxl.load_workbook(path)
    book["Old"].sheet_state = "hidden"
    book.active = 1
    book.save(path)
    assert _cells(_read(path)) == [(2, "2", "VT2")]


def test_a_workbook_without_rows(tmp_path: Path) -> None:
    assert _read(_save(tmp_path / "a.xlsx", T=[], U=[])) == []
    (batch,) = _read(_save(tmp_path / "a.xlsx", T=[["ticket", "machine"]]))
    assert (batch.headers, batch.read_count) == (WANTED, 0)


ENDING = " Export it again, or move it out of the site folder."


@pytest.mark.parametrize(
    ("rows", "dialect", "said"),
    [
        ([["a", "a"]], {}, ' has two columns "a". Rename one of them in the header line.'),
        ([["a"], [], ["b"]], {"header_row": 2}, ", row 2 is empty. Expected the header there."),
        ([["a"], ["b"]], {"header_row": 9}, " has no row 9 for its header, only 2."),
        ([[f"c{k}" for k in range(10_001)]], {}, " has 10001 columns. Expected at most 10000."),
    ],
)
def test_a_header_that_cannot_be_used(
    tmp_path: Path, rows: list[list[object]], dialect: dict[str, object], said: str
) -> None:
    with pytest.raises(FeedError) as error:
        _read(_save(tmp_path / "a.xlsx", T=rows), **dialect)
    assert str(error.value).startswith(f"tickets.xlsx{said}")


def test_what_is_no_workbook_is_one_plain_line(tmp_path: Path) -> None:
    path = _save(tmp_path / "a.xlsx", T=[["ticket"]])
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(FeedError) as cut:
        _read(path)
    assert str(cut.value) == f'"tickets.xlsx" cannot be read: it is damaged, or was not written to its end.{ENDING}'
    with pytest.raises(FeedError) as gone:
        _read(tmp_path / "b.xlsx")
    assert str(gone.value) == f'"tickets.xlsx" cannot be read: No such file or directory.{ENDING}'


def test_a_workbook_without_a_sheet(tmp_path: Path) -> None:
    path = tmp_path / "a.ods"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", "<office:document-content xmlns:office='o'/>")
    with pytest.raises(FeedError) as error:
        _read(path)
    assert str(error.value) == f'"tickets.xlsx" cannot be read: it has no sheet.{ENDING}'
    with pytest.raises(FeedError, match=r'has no sheet "1"\. It has: none\. Mend sheet in its \[\[feeds\]\] table\.$'):
        _read(path, "1")


def test_batches_are_cut_without_a_seam(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [["ticket", "machine"], *([k, "machine" if k == 3 else "VT1"] for k in range(9)), ["ticket", "machine"]]
    path = _save(tmp_path / "a.xlsx", Notes=[["x"]], T=rows)
    whole = _read(path)
    monkeypatch.setattr(excel_reader, "CELLS_IN_A_BATCH", 4)
    parts = _read(path)
    assert (len(whole), len(parts)) == (1, 5)
    assert _cells(parts) == _cells(whole)
    assert (
        _aside(parts)
        == _aside(whole)
        == [(11, '{"ticket":"ticket","machine":"machine"}', "header: the line is a header again.")]
    )
    assert _findings(parts) == _findings(whole)


WORD = st.sampled_from([None, None, "x", "", " ", "VT1", 3, 0.5, True, EVENING, "ticket", "machine", "n\nl"])


@settings(deadline=None, max_examples=60)
@given(st.lists(st.lists(WORD, max_size=4), max_size=12), st.integers(1, 4), st.integers(0, 3))
def test_nothing_is_lost(tmp_path_factory, table: list[list[object]], first_row: int, first_column: int) -> None:
    """Rows and what is set aside are all rows below the header that openpyxl finds a value in."""
    path = tmp_path_factory.mktemp("book") / "a.xlsx"
    book = openpyxl.Workbook()
    for line, row in enumerate([["ticket", "machine"], *table], start=first_row):
        for column, value in enumerate(row, start=first_column + 1):
            book.worksheets[0].cell(line, column, value)
    book.save(path)
    sheet = openpyxl.load_workbook(path).worksheets[0]
    filled = [
        line
        for line, row in enumerate(sheet.iter_rows(values_only=True), start=1)
        if any(v not in (None, "") for v in row)
    ]
    batches = _read(path)
    lines = [row[0] for row in [*_cells(batches), *_aside(batches)]]
    assert sorted(lines) == [line for line in filled if line > first_row]


SOFFICE = shutil.which("soffice")
EXPORT = [
    ["ticket", "machine", "opened", "lasted", "hours", "told", "note"],
    ["0042", "VT1", "2031-03-09 21:04:05", "25:15:00", "1.5", "TRUE", "two\nlines, and a comma"],
    ["17", "VT2", "2031-03-09", "21:04:00", "3", "FALSE", "größer"],
    ["", "", "", "", "", "", ""],
    ["18", "VT3", "2031-12-31 23:59:59", "0:03:00", "0.04", "TRUE", "=1/0"],
    ["total", "", "", "", "4.54", "", "=#N/A"],
]
# By hand: what a cell of LibreOffice is once it has read the CSV by the tokens below. 0042 is a number to it, TRUE a
# truth, an empty row stays empty, and a formula holds what it comes to.
READ = [
    (2, "42", "VT1", "2031-03-09T21:04:05", "25:15:00", "1.5", "true", "two\nlines, and a comma"),
    (3, "17", "VT2", "2031-03-09", "21:04:00", "3", "false", "größer"),
    (5, "18", "VT3", "2031-12-31T23:59:59", "00:03:00", "0.04", "true", "#DIV/0!"),
    (6, "total", None, None, None, "4.54", None, "#N/A"),
]


@pytest.mark.slow
@pytest.mark.skipif(SOFFICE is None, reason="LibreOffice is not installed")
@pytest.mark.parametrize("form", ["xlsx", "xls", "ods"])
def test_what_libreoffice_writes_is_read_to_the_same_rows(tmp_path: Path, form: str) -> None:
    source = tmp_path / "tickets.csv"
    with source.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows(EXPORT)
    # Tokens of the CSV filter: comma, quote, UTF-8, first line 1, no formats, English, quoted as such no, detect yes,
    # save as shown yes, formulas no, no, all sheets, evaluate formulas yes
    tokens = "44,34,76,1,,1033,false,true,false,false,false,-1,true"
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    command = [str(SOFFICE), "--headless", profile, f"--infilter=CSV:{tokens}", "--convert-to", form]
    subprocess.run([*command, "--outdir", str(tmp_path), str(source)], check=True, capture_output=True, timeout=120)
    batches = _read(tmp_path / f"tickets.{form}")
    assert batches[0].headers == tuple(EXPORT[0])
    read = READ
    if form == "xls":  # its library has no text for a cell that holds an error, and reads it as empty
        read = [tuple(None if str(cell).startswith("#") else cell for cell in row) for row in READ]
    assert _cells(batches) == read
    assert (_aside(batches), _findings(batches)) == ([], [])


@pytest.mark.slow
def test_a_long_sheet_is_read_to_its_end(tmp_path: Path) -> None:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("T")
    sheet.append(["ticket", "machine", "at"])
    for k in range(30_000):
        sheet.append([k, "VT1", EVENING + timedelta(seconds=k)])
    book.save(tmp_path / "a.xlsx")
    batches = _read(tmp_path / "a.xlsx")
    assert sum(batch.rows.height for batch in batches) == 30_000
    last = pl.concat([batch.rows for batch in batches]).row(-1)
    assert last[0] == 30_001
    assert last[4] == (EVENING + timedelta(seconds=29_999)).isoformat()
