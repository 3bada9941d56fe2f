"""Cells of .ods workbooks written as OpenDocument 1.3 part 3 allows."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from pipeline.ingest.workbooks import sheet_rows
from pipeline.ingest.workbooks.sheet_rows import WorkbookError
from pipeline.ingest.workbooks.workbook_odf import open_odf

SPACES = " ".join(
    f'xmlns:{name}="urn:{name}"' for name in ("office", "table", "text", "style", "calcext", "draw", "dc")
)


def _write(path: Path, tables: str, styles: str = "") -> None:
    content = f"<office:document-content {SPACES}><office:automatic-styles>{styles}</office:automatic-styles>"
    content += f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)


def _rows(path: Path, rows: str) -> list[tuple[object, ...]]:
    _write(path, f'<table:table table:name="T">{rows}</table:table>')
    book = open_odf(path)
    return book.rows(book.sheets[0]).rows()


def _cell(attributes: str, shown: str = "", times: int = 1) -> str:
    return f'<table:table-cell {attributes} table:number-columns-repeated="{times}">{shown}</table:table-cell>'


TEXT = 'office:value-type="string"'


# 19.385 (value-type) and the values that go with it; times are durations of ISO 8601
@pytest.mark.parametrize(
    ("attributes", "shown", "expected"),
    [
        ('office:value-type="float" office:value="3"', "<text:p>3,00</text:p>", "3"),
        ('office:value-type="float" office:value="1E+020"', "", "100000000000000000000"),
        ('office:value-type="percentage" office:value="0.25"', "<text:p>25 %</text:p>", "0.25"),
        ('office:value-type="currency" office:currency="SEK" office:value="12.50"', "", "12.5"),
        ('office:value-type="date" office:date-value="2031-03-09"', "", "2031-03-09"),
        ('office:value-type="date" office:date-value="2031-03-09T21:04:00"', "", "2031-03-09T21:04:00"),
        ('office:value-type="date" office:date-value="2031-03-09T21:03:59.9999999"', "", "2031-03-09T21:04:00"),
        ('office:value-type="time" office:time-value="PT21H04M00S"', "", "21:04:00"),
        ('office:value-type="time" office:time-value="PT25H15M00.250000S"', "", "25:15:00.250"),
        ('office:value-type="time" office:time-value="P1DT1H15M"', "", "25:15:00"),
        ('office:value-type="time" office:time-value="-PT1H30M"', "", "-01:30:00"),
        ('office:value-type="time" office:time-value="soon"', "", "soon"),
        ('office:value-type="boolean" office:boolean-value="true"', "<text:p>SANT</text:p>", "true"),
        (TEXT, "<text:p>a &amp; b</text:p>", "a & b"),
        (TEXT, "<text:p>one</text:p><text:p>two</text:p>", "one\ntwo"),
        (TEXT, '<text:p>a<text:s text:c="3"/>b<text:s/>c<text:tab/>d<text:line-break/>e</text:p>', "a   b c\td\ne"),
        (TEXT, "<text:p><text:span>bo</text:span><text:a>ld</text:a></text:p>", "bold"),
        (
            TEXT,
            "<office:annotation><dc:date>no</dc:date><text:p>no</text:p></office:annotation><text:p>yes</text:p>",
            "yes",
        ),
        (f'{TEXT} office:string-value="kept"', "<text:p>shown</text:p>", "kept"),
        (f'{TEXT} office:string-value="" calcext:value-type="error"', "<text:p>#N/A</text:p>", "#N/A"),
        ("", "<text:p>#DIV/0!</text:p>", "#DIV/0!"),
    ],
)
def test_a_cell_of_every_type(tmp_path: Path, attributes: str, shown: str, expected: str) -> None:
    rows = f"<table:table-row>{_cell(attributes, shown)}</table:table-row>"
    assert _rows(tmp_path / "a.ods", rows) == [(1, expected)]


def test_repeated_rows_and_cells_stand_where_they_do_in_the_sheet(tmp_path: Path) -> None:
    rows = f"""<table:table-row table:number-rows-repeated="3">{_cell("", times=16384)}</table:table-row>
    <table:table-header-rows><table:table-row>{_cell("", times=2)}{_cell(TEXT, "<text:p>h</text:p>")}</table:table-row>
    </table:table-header-rows>
    <table:table-row table:number-rows-repeated="2">{_cell("", times=2)}{_cell(TEXT, "<text:p>x</text:p>", 2)}
    <table:covered-table-cell/>{_cell("", times=16379)}</table:table-row>
    <table:table-row table:number-rows-repeated="1048570">{_cell("", times=16384)}</table:table-row>"""
    assert _rows(tmp_path / "a.ods", rows) == [(4, "h", None), (5, "x", "x"), (6, "x", "x")]


def test_sheets_by_their_tabs_hidden_or_not(tmp_path: Path) -> None:
    styles = '<style:style style:name="ta2"><style:table-properties table:display="false"/></style:style>'
    row = f"<table:table-row>{_cell(TEXT, '<text:p>{}</text:p>')}</table:table-row>"
    tables = '<table:table table:name="One" table:style-name="ta1">' + row.format("1") + "</table:table>"
    tables += '<table:table table:name="Old" table:style-name="ta2">' + row.format("2") + "</table:table>"
    _write(tmp_path / "a.ods", tables, styles)
    book = open_odf(tmp_path / "a.ods")
    assert [(sheet.name, sheet.is_visible) for sheet in book.sheets] == [("One", True), ("Old", False)]
    assert [book.rows(sheet).rows() for sheet in book.sheets] == [[(1, "1")], [(1, "2")]]


ANY = _cell(TEXT, "<text:p>x</text:p>", 16384)
MANY = f"<table:table-row table:number-rows-repeated='1048576'>{ANY}</table:table-row>"
LONG = "<table:table-row>" + _cell(TEXT, '<text:p><text:s text:c="4294967295"/></text:p>') + "</table:table-row>"


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (MANY, "the sheet has more than 32,000,000 cells, or 1 GiB of text"),
        (MANY.replace("1048576", "1048577"), "it is damaged, or was not written to its end"),
        (MANY.replace("16384", "16385"), "it is damaged, or was not written to its end"),
        (MANY.replace("1048576", "many"), "it is damaged, or was not written to its end"),
        (LONG, "it is damaged, or was not written to its end"),
    ],
)
def test_a_short_file_that_names_thousands_of_millions_of_cells_is_refused(tmp_path: Path, rows: str, why: str) -> None:
    with pytest.raises(WorkbookError, match=f"^{why}$"):
        _rows(tmp_path / "a.ods", rows)


def test_a_text_that_is_repeated_counts_each_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet_rows, "MOST_CHARACTERS", 29)
    row = (
        "<table:table-row table:number-rows-repeated='3'>"
        + _cell(TEXT, "<text:p>12345</text:p>", 2)
        + "</table:table-row>"
    )
    with pytest.raises(WorkbookError, match=r"GiB of text$"):
        _rows(tmp_path / "a.ods", row)
