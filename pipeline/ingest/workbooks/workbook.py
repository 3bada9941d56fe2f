"""Opens a workbook by what it holds, whatever its name ends in."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

import polars as pl

from pipeline.ingest.workbooks.sheet_rows import Sheet, WorkbookError
from pipeline.ingest.workbooks.workbook_binary import open_binary
from pipeline.ingest.workbooks.workbook_odf import open_odf
from pipeline.ingest.workbooks.workbook_ooxml import open_ooxml
from pipeline.ingest.workbooks.workbook_package import PROTECTED, open_package

MOST_FILE_BYTES = 256 << 20  # the fullest sheet that is read packs to about 100 MiB
COMPOUND_FILE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # [MS-CFB], 2.2
STRICT = b"http://purl.oclc.org/ooxml/"  # ISO/IEC 29500 part 1 in its strict form, which openpyxl does not read
NO_WORKBOOK = "it is no workbook, or a part of one. Expected .xlsx, .xlsm, .xlsb, .xls or .ods"


class Workbook(Protocol):
    """A workbook by its sheets, in the order of its tabs."""

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """All sheets, those of charts among them."""

    def rows(self, sheet: Sheet) -> pl.DataFrame:
        """The rows of ``sheet`` that hold something: ``line``, its row from 1, and text cells by column from 0.

        Raises:
            WorkbookError: it is damaged or too large.
        """


def open_workbook(path: Path) -> Workbook:
    """The workbook at ``path``.

    Raises:
        WorkbookError: it is no workbook, or is damaged, protected by a password, or too large.
        OSError: it cannot be read.
    """
    if path.stat().st_size > MOST_FILE_BYTES:
        raise WorkbookError(f"it is larger than {MOST_FILE_BYTES >> 20} MiB")
    with path.open("rb") as stream:
        begins = stream.read(8)
    if begins == COMPOUND_FILE:
        _check_compound(path.read_bytes())
        return open_binary(path)
    if not begins.startswith(b"PK"):
        raise WorkbookError(NO_WORKBOOK)
    with open_package(path) as package:
        names = package.names
        is_strict = "xl/workbook.xml" in names and STRICT in package.read("xl/workbook.xml")
    if "xl/workbook.xml" in names and not is_strict:
        return open_ooxml(path)
    if is_strict or "xl/workbook.bin" in names:
        return open_binary(path)
    if "content.xml" in names and "mimetype" in names:
        return open_odf(path)
    raise WorkbookError(NO_WORKBOOK)


def _check_compound(data: bytes) -> None:
    """Refuse what else such a file holds: a workbook with a password as [MS-OFFCRYPTO] has it, or a document."""
    if "EncryptedPackage".encode("utf-16-le") in data:
        raise WorkbookError(PROTECTED)
    if not any(name.encode("utf-16-le") in data for name in ("Workbook", "Book")):
        raise WorkbookError(NO_WORKBOOK)
