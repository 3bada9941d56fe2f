"""What is a workbook and what is not, and workbooks made to explode."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import openpyxl
import pytest

from pipeline.ingest.workbooks import workbook, workbook_package
from pipeline.ingest.workbooks.sheet_rows import WorkbookError
from pipeline.ingest.workbooks.workbook import open_workbook
from tests.ingest.workbooks.xls_writer import compound, label, xls

NO_WORKBOOK = "it is no workbook, or a part of one. Expected .xlsx, .xlsm, .xlsb, .xls or .ods"
DAMAGED = "it is damaged, or was not written to its end"
UNUSUAL = "it is damaged, or written as few workbooks are; a spreadsheet program may open it and save it anew"
PROTECTED = "it is protected by a password. Save it without one"


def _xlsx() -> bytes:
    book, saved = openpyxl.Workbook(), io.BytesIO()
    book.worksheets[0].append(["ticket", "machine"])
    book.save(saved)
    return saved.getvalue()


def _zip(parts: dict[str, bytes]) -> bytes:
    saved = io.BytesIO()
    with zipfile.ZipFile(saved, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return saved.getvalue()


MANIFEST = (
    b"<manifest:manifest><manifest:file-entry><manifest:encryption-data/></manifest:file-entry></manifest:manifest>"
)
XLSX = _xlsx()


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", NO_WORKBOOK),
        (b"ticket;machine\n", NO_WORKBOOK),
        (b"<html><table><tr><td>1</td></tr></table></html>", NO_WORKBOOK),  # what some programs save as .xls
        (_zip({"a.txt": b"a"}), NO_WORKBOOK),
        (compound({"WordDocument": b"x"}), NO_WORKBOOK),
        (compound({"EncryptedPackage": b"x", "EncryptionInfo": b"y"}), PROTECTED),
        (_zip({"mimetype": b"m", "content.xml": b"x", "META-INF/manifest.xml": MANIFEST}), PROTECTED),
        (XLSX[: len(XLSX) // 2], DAMAGED),
        (XLSX[:-30], DAMAGED),
        (b"PK\x03\x04", DAMAGED),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", NO_WORKBOOK),
        (_zip({"xl/workbook.xml": b"<workbook>"}), UNUSUAL),
        (_zip({"xl/workbook.xml": b"<workbook/>"}), UNUSUAL),
    ],
)
def test_what_is_no_workbook_is_refused_in_plain_words(tmp_path: Path, content: bytes, why: str) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(content)
    with pytest.raises(WorkbookError) as error:
        open_workbook(path)
    assert str(error.value) == why


@pytest.mark.parametrize("content", [XLSX, xls({"Sheet": label(0, 0, "ticket")})])
def test_a_workbook_is_known_by_what_it_holds(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "tickets.ods"
    path.write_bytes(content)
    book = open_workbook(path)
    assert [sheet.name for sheet in book.sheets] == ["Sheet"]
    assert book.rows(book.sheets[0])["cell_0"].to_list() == ["ticket"]


def _with_parts(parts: dict[str, bytes]) -> bytes:
    old = zipfile.ZipFile(io.BytesIO(XLSX))
    return _zip({**{name: old.read(name) for name in old.namelist()}, **parts})


def test_a_workbook_that_explodes_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    """A hundred MiB of noughts pack about 1,000 to 1 (RFC 1951 allows 1,032)."""
    path = tmp_path / "a.xlsx"
    path.write_bytes(_with_parts({"xl/media/nothing.bin": bytes(100 << 20)}))
    with pytest.raises(WorkbookError, match=r"^it unpacks to more than 200 times its size, as no workbook does$"):
        open_workbook(path)


def test_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(_with_parts({f"xl/{k}": b"" for k in range(20)}))
    with monkeypatch.context() as patch:
        patch.setattr(workbook_package, "MOST_BYTES", 4 << 10)
        with pytest.raises(WorkbookError, match=r"^it unpacks to more than 0 GiB$"):
            open_workbook(path)
    with monkeypatch.context() as patch:
        patch.setattr(workbook_package, "MOST_PARTS", 10)
        with pytest.raises(WorkbookError, match=r"parts, more than 10, as no workbook does$"):
            open_workbook(path)
    with monkeypatch.context() as patch:
        patch.setattr(workbook, "MOST_FILE_BYTES", 100)
        with pytest.raises(WorkbookError, match=r"^it is larger than 0 MiB$"):
            open_workbook(path)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/_rels/workbook.xml.rels"])
def test_entities_are_never_resolved(tmp_path: Path, part: str, encoding: str) -> None:
    laughs = '<!DOCTYPE w [<!ENTITY a "haha"><!ENTITY b "&a;&a;&a;">]><workbook>&b;</workbook>'
    path = tmp_path / "a.xlsx"
    path.write_bytes(_with_parts({part: laughs.encode(encoding)}))
    with pytest.raises(WorkbookError, match=f"^{DAMAGED}$"):
        open_workbook(path)


def test_the_strict_form_is_read_by_the_other_library(tmp_path: Path) -> None:
    """ISO/IEC 29500 part 1 has other names for the same elements, which openpyxl takes for strange ones."""
    old, strict = zipfile.ZipFile(io.BytesIO(XLSX)), "http://purl.oclc.org/ooxml/"
    names = {
        "http://schemas.openxmlformats.org/spreadsheetml/2006/main": f"{strict}spreadsheetml/main",
        "http://schemas.openxmlformats.org/officeDocument/2006/relationships": f"{strict}officeDocument/relationships",
    }
    parts = {name: old.read(name) for name in old.namelist()}
    for ours, theirs in names.items():
        parts = {name: part.replace(ours.encode(), theirs.encode()) for name, part in parts.items()}
    path = tmp_path / "a.xlsx"
    path.write_bytes(_zip(parts))
    book = open_workbook(path)
    assert [book.rows(sheet).rows() for sheet in book.sheets] == [[(1, "ticket", "machine")]]
