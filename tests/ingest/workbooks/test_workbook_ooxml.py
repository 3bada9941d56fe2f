"""Cells of .xlsx workbooks written as ECMA-376 part 1 allows, and as openpyxl reads them back."""

from __future__ import annotations

import zipfile
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from pipeline.ingest.workbooks import sheet_rows, workbook_ooxml
from pipeline.ingest.workbooks.sheet_rows import WorkbookError
from pipeline.ingest.workbooks.workbook_ooxml import open_ooxml

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="rId1" Type="t" Target="{}"/></Relationships>'
)
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml."
TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="xml" ContentType="application/xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{TYPE}sheet.main+xml"/>'
    f'<Override PartName="/xl/sharedStrings.xml" ContentType="{TYPE}sharedStrings+xml"/></Types>'
)
STYLES = (
    f'<styleSheet xmlns="{MAIN}"><numFmts><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd hh:mm"/></numFmts>'
    '<cellStyleXfs><xf numFmtId="46"/></cellStyleXfs>'
    '<cellXfs><xf numFmtId="0"/><xf numFmtId="164"/><xf numFmtId="46"/><xf numFmtId="20"/></cellXfs></styleSheet>'
)


def _write(
    path: Path, rows: str, *, strings: str = "", settings: str = "", target: str = "worksheets/sheet1.xml", p: str = ""
) -> None:
    sheet = "xl/worksheets/sheet1.xml"
    book = f'<{p}workbook xmlns{":x" if p else ""}="{MAIN}" xmlns:r="{LINKS}">{settings}'
    book += f'<{p}sheets><{p}sheet name="T &amp; U" sheetId="9" r:id="rId1"/></{p}sheets></{p}workbook>'
    data = f'<{p}worksheet xmlns{":x" if p else ""}="{MAIN}"><{p}sheetData>{rows}</{p}sheetData></{p}worksheet>'
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("xl/workbook.xml", book)
        archive.writestr("xl/_rels/workbook.xml.rels", RELATIONS.format(target))
        archive.writestr(sheet, data)
        archive.writestr("xl/styles.xml", STYLES)
        archive.writestr("xl/sharedStrings.xml", f'<sst xmlns="{MAIN}">{strings}</sst>')


def _rows(path: Path) -> list[tuple[object, ...]]:
    book = open_ooxml(path)
    return book.rows(book.sheets[0]).rows()


def _one(path: Path, cell: str, **named: str) -> object:
    """The text of a single cell, None if it holds nothing."""
    _write(path, f'<row r="1">{cell}</row>', **named)
    found = _rows(path)
    return found[0][1] if found else None


# 18.3.1.4 (c) and 18.18.11 (its types)
@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("<c r='A1'><v>3</v></c>", "3"),
        ("<c r='A1' t='n'><v>3.0</v></c>", "3"),
        ("<c r='A1' s='0'><v>0.30000000000000004</v></c>", "0.3"),
        ("<c r='A1' s='1'><v>46023</v></c>", "2026-01-01"),
        ("<c r='A1' s='1'><v>46023.877777777778</v></c>", "2026-01-01T21:04:00"),
        ("<c r='A1' s='2'><v>1.0520833333333333</v></c>", "25:15:00"),
        ("<c r='A1' s='3'><v>0.87777777777777777</v></c>", "21:04:00"),
        ("<c r='A1' s='99'><v>7</v></c>", "7"),
        ("<c r='A1' t='b'><v>1</v></c>", "true"),
        ("<c r='A1' t='b'><v>0</v></c>", "false"),
        ("<c r='A1' t='e'><v>#DIV/0!</v></c>", "#DIV/0!"),
        ("<c r='A1' t='str'><f>A2</f><v>a &lt; b</v></c>", "a < b"),
        ("<c r='A1' t='str'><f>A2</f><v></v></c>", None),
        ("<c r='A1'><f>1+1</f><v>2</v></c>", "2"),
        ("<c r='A1'><f>1/0</f><v/></c>", "=1/0"),  # saved by a program that works nothing out
        ("<c r='A1'><f>1/0</f></c>", "=1/0"),
        ("<c r='A1' t='d'><v>2031-03-09T21:04:00</v></c>", "2031-03-09T21:04:00"),
        ("<c r='A1' t='inlineStr'><is><t>plain</t></is></c>", "plain"),
        (
            "<c r='A1' t='inlineStr'><is><r><t>ri</t></r><r><t>ch</t></r><rPh sb='0' eb='1'><t>no</t></rPh></is></c>",
            "rich",
        ),
        ("<c r='A1' t='inlineStr'><is><t>a_x000D_b_x005F_c</t></is></c>", "a\rb_c"),
        ("<c r='A1' t='inlineStr'><is><t>_xD83D__xDE00__xD83D_</t></is></c>", "😀�"),
        ("<c r='A1' s='1'/>", None),
        ("<c r='A1' s='1'><v>1e300</v></c>", "#VALUE!"),  # no date; the library says so as an error
    ],
)
def test_a_cell_of_every_type(tmp_path: Path, cell: str, expected: str | None) -> None:
    assert _one(tmp_path / "a.xlsx", cell) == expected


# 18.17.4.1: 1 January 2026 is day 46,023 of the one system and 44,561 of the other. 25:15 are 25.25 of 24 hours.
# Styles: 1 has a date and a time, 2 what has passed ([h]:mm:ss), 3 a time (h:mm).
@pytest.mark.parametrize(
    ("serial", "style", "is_1904", "expected"),
    [
        (46023, 1, False, "2026-01-01"),
        (44561, 1, True, "2026-01-01"),
        (46023.877777777, 1, False, "2026-01-01T21:04:00"),  # the digits that a sheet shows; 0.067 ms short
        (1, 1, False, "1900-01-01"),
        (59, 1, False, "1900-02-28"),
        (61, 1, False, "1900-03-01"),
        (0, 1, False, "00:00:00"),
        (1, 1, True, "1904-01-02"),
        (1264 / 1440, 1, False, "21:04:00"),
        (46023 + 1264 / 1440, 3, False, "2026-01-01T21:04:00"),  # shows a time only, and holds a date
        (25.25 / 24, 3, False, "25:15:00"),
        (25.25 / 24, 3, True, "25:15:00"),
        (1000.5 / 24, 3, False, "1000:30:00"),
        (1000.5 / 24, 2, True, "1000:30:00"),
        (-1.5 / 24, 2, False, "-01:30:00"),
        (-1.5 / 24, 3, False, "-01:30:00"),
        (2958465, 1, False, "9999-12-31"),
        (46023.1234567, 0, False, "46023.1234567"),
    ],
)
def test_a_serial_is_what_its_format_says(
    tmp_path: Path, serial: float, style: int, is_1904: bool, expected: str
) -> None:
    settings = '<workbookPr date1904="1"/>' if is_1904 else ""
    cell = f"<c r='A1' s='{style}'><v>{serial!r}</v></c>"
    assert _one(tmp_path / "a.xlsx", cell, settings=settings) == expected


def test_a_formula_that_was_never_worked_out_is_kept_beside_values_and_empty_cells(tmp_path: Path) -> None:
    rows = "<row r='1'><c r='A1' s='1'/><c r='B1'><v>1</v></c></row>"
    rows += "<row r='4'><c r='A4' t='str'><f>B1</f><v></v></c><c r='C4' s='1'><f>B1+1</f></c></row>"
    _write(tmp_path / "a.xlsx", rows + "<row r='5'><c r='B5' s='1'/></row>")
    assert _rows(tmp_path / "a.xlsx") == [(1, "1", None), (4, None, "=B1+1")]


def test_texts_that_cells_share(tmp_path: Path) -> None:
    strings = "<si><t>one</t></si><si><r><t>t</t></r><r><t>wo</t></r><rPh sb='0' eb='1'><t>no</t></rPh></si><si/>"
    cells = "".join(f"<c r='{column}1' t='s'><v>{k}</v></c>" for k, column in enumerate("ABC"))
    _write(tmp_path / "a.xlsx", f"<row r='1'>{cells}</row>", strings=strings)
    assert _rows(tmp_path / "a.xlsx") == [(1, "one", "two")]
    with pytest.raises(WorkbookError, match=r"damaged"):
        _one(tmp_path / "b.xlsx", "<c r='A1' t='s'><v>3</v></c>", strings=strings)


def test_rows_and_cells_without_their_places(tmp_path: Path) -> None:
    """``r`` is optional in both: then they follow the one before."""
    _write(
        tmp_path / "a.xlsx",
        "<row><c><v>1</v></c><c r='D1'><v>2</v></c><c><v>3</v></c></row><row r='5'/><row><c><v>4</v></c></row>",
    )
    book = open_ooxml(tmp_path / "a.xlsx")
    frame = book.rows(book.sheets[0])
    assert frame.columns == ["line", "cell_0", "cell_3", "cell_4"]
    assert frame.rows() == [(1, "1", "2", "3"), (6, "4", None, None)]


@pytest.mark.parametrize(
    "target", ["worksheets/sheet1.xml", "/xl/worksheets/sheet1.xml", "./worksheets/../worksheets/sheet1.xml"]
)
@pytest.mark.parametrize("p", ["", "x:"])
def test_elements_with_a_prefix_and_parts_by_any_path(tmp_path: Path, target: str, p: str) -> None:
    rows = f"<{p}row r='2'><{p}c r='B2'><{p}v>1</{p}v></{p}c></{p}row>"
    _write(tmp_path / "a.xlsx", rows, target=target, p=p)
    book = open_ooxml(tmp_path / "a.xlsx")
    assert [sheet.name for sheet in book.sheets] == ["T & U"]
    assert book.rows(book.sheets[0]).rows() == [(2, "1")]


@pytest.mark.parametrize(("said", "expected"), [("1", "2030-01-02"), ("true", "2030-01-02"), ("0", "2026-01-01")])
def test_the_system_of_days(tmp_path: Path, said: str, expected: str) -> None:
    """46,023 days from 1 January 1904: 1,462 more than to the same number of the other system (18.17.4.1)."""
    cell = "<c r='A1' s='1'><v>46023</v></c>"
    assert _one(tmp_path / "a.xlsx", cell, settings=f'<workbookPr date1904="{said}"/>') == expected


@pytest.mark.parametrize(
    "rows",
    [
        "<row r='1'><c r='A1'><v>1</v></c>",
        "<row r='1'><c r='é1'><v>1</v></c></row>",
        "<row r='one'/>",
        "<row r='1048577'><c r='A1048577'><v>1</v></c></row>",
        "<row r='1'><c r='XFE1'><v>1</v></c></row>",
        "<row r='0'><c r='A1'><v>1</v></c></row>",
        "<row r='5'><c><v>1</v></c></row><row r='3'><c><v>2</v></c></row>",
        "<row r='5'><c><v>1</v></c></row><row r='5'><c><v>2</v></c></row>",
        "<row r='2147483647'/>",
        f"<row r='1'>{'<c/>' * 1_000_001}</row>",
        "<row r='1'><c r='A1' s='1'><v>no number</v></c></row>",
        "<row r='1'><c r='A1' t='s'><v>x</v></c></row>",
    ],
)
def test_a_sheet_that_breaks_its_own_rules_is_refused(tmp_path: Path, rows: str) -> None:
    _write(tmp_path / "a.xlsx", rows)
    with pytest.raises(
        WorkbookError, match=r"^it is damaged, or w(as not written to its end|ritten as few workbooks are; .*)$"
    ):
        _rows(tmp_path / "a.xlsx")


def test_a_cell_at_the_far_end_costs_nothing(tmp_path: Path) -> None:
    """There are 17,179,869,184 cells up to XFD1048576."""
    rows = "<row r='1'><c r='A1'><v>1</v></c></row><row r='1048576'><c r='XFD1048576'><v>2</v></c></row>"
    _write(tmp_path / "a.xlsx", rows)
    assert _rows(tmp_path / "a.xlsx") == [(1, "1", None), (1_048_576, None, "2")]


def test_rows_that_all_reach_far_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The library has a place for each column up to the last: 3 and 3 here."""
    _write(tmp_path / "a.xlsx", "<row r='1'><c r='C1'><v>1</v></c></row><row r='2'><c r='C2'><v>2</v></c></row>")
    monkeypatch.setattr(workbook_ooxml, "MOST_PLACES", 6)
    assert len(_rows(tmp_path / "a.xlsx")) == 2
    monkeypatch.setattr(workbook_ooxml, "MOST_PLACES", 5)
    with pytest.raises(WorkbookError, match=r"up to the last cell of each row\. Delete what stands far"):
        _rows(tmp_path / "a.xlsx")


def test_more_cells_than_can_be_read_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _write(tmp_path / "a.xlsx", "<row r='1'><c><v>1</v></c><c><v>2</v></c></row><row r='2'><c><v>3</v></c></row>")
    monkeypatch.setattr(sheet_rows, "MOST_CELLS", 4)
    assert len(_rows(tmp_path / "a.xlsx")) == 2
    monkeypatch.setattr(sheet_rows, "MOST_CELLS", 3)
    with pytest.raises(WorkbookError, match=r"^the sheet has more than 32,000,000 cells, or 1 GiB of text$"):
        _rows(tmp_path / "a.xlsx")
    monkeypatch.undo()
    monkeypatch.setattr(sheet_rows, "MOST_CHARACTERS", 2)
    with pytest.raises(WorkbookError, match=r"GiB of text$"):
        _rows(tmp_path / "a.xlsx")


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn"]), min_size=1, max_size=8)
PLAIN = TEXT.filter(lambda text: not text.startswith(("=", "#")) and "_x" not in text)
AT = st.datetimes(datetime(1960, 1, 1), datetime(2199, 1, 1)).map(lambda at: at.replace(microsecond=0))  # noqa: DTZ001
VALUE = st.one_of(st.none(), PLAIN, st.booleans(), st.integers(-(10**14), 10**14), AT)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.lists(VALUE, max_size=4), max_size=6), st.booleans())
def test_what_openpyxl_writes_is_read(tmp_path_factory, table: list[list[object]], is_1904: bool) -> None:
    path = tmp_path_factory.mktemp("book") / "a.xlsx"
    book = openpyxl.Workbook()
    if is_1904:
        book.epoch = CALENDAR_MAC_1904
    for row in table:
        book.worksheets[0].append(row)
    book.save(path)
    found = open_ooxml(path)
    frame = found.rows(found.sheets[0])
    lines = frame["line"].to_list()
    cells = {
        (line, int(name[5:])): text
        for name in frame.columns[1:]
        for line, text in zip(lines, frame[name], strict=True)
        if text is not None
    }
    assert cells == {
        (line, column): _text(value)
        for line, row in enumerate(table, start=1)
        for column, value in enumerate(row)
        if value is not None
    }


def _text(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime):
        return value.isoformat().removesuffix("T00:00:00")
    return str(value)


def test_a_duration_that_openpyxl_writes(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append([timedelta(hours=25, minutes=15), timedelta(minutes=3)])
    book.save(tmp_path / "a.xlsx")
    assert _rows(tmp_path / "a.xlsx") == [(1, "25:15:00", "00:03:00")]
