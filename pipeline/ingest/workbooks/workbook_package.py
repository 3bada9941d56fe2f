"""Opens the zip archive that a workbook is, and reads its XML a piece at a time; stops at what is made to explode."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from xml.parsers import expat

from pipeline.ingest.workbooks.sheet_rows import DAMAGED, WorkbookError

# A sheet with the same row over and over packs about 15 to 1, and the fullest one that is read has about 1 GiB of XML.
MOST_TIMES = 200
FREE_BYTES = 64 << 20
MOST_BYTES = 1 << 30
MOST_PARTS = 10_000
START_BYTES = 1 << 10

ENCRYPTED_PART = 0x1
PROTECTED = "it is protected by a password. Save it without one"
Start = Callable[[str, dict[str, str]], None]
End = Callable[[str], None]


class Package:
    """The parts of a workbook by name."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self.names = frozenset(archive.namelist())

    def read(self, name: str) -> bytes:
        """The bytes of a part.

        Raises:
            WorkbookError: it has no such part, or a damaged one.
        """
        with _plain_words():
            return self._archive.read(name)

    def parse(self, name: str, start: Start, end: End, parser: expat.XMLParserType | None = None) -> None:
        """Call ``start`` and ``end`` for each element of an XML part, with its name and attributes as they stand.

        Raises:
            WorkbookError: it has no such part, a damaged one, or one that defines entities.
        """
        parser = parser or expat.ParserCreate()
        parser.buffer_text = True
        parser.StartElementHandler, parser.EndElementHandler = start, end
        parser.StartDoctypeDeclHandler = _refuse_doctype
        with _plain_words(), self._archive.open(name) as stream:
            parser.ParseFile(stream)


@contextmanager
def open_package(path: Path) -> Iterator[Package]:
    """The parts of the workbook at ``path``.

    Raises:
        WorkbookError: it is no zip archive, is damaged or protected, or unpacks to more than 1 GiB, or to more than 200
            times its size and 64 MiB.
    """
    with _plain_words(), zipfile.ZipFile(path) as archive:
        _check_bounds(archive, path.stat().st_size)
        _check_starts(archive)
        yield Package(archive)


def _check_bounds(archive: zipfile.ZipFile, packed_bytes: int) -> None:
    parts = archive.infolist()
    whole = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS:
        raise WorkbookError(f"it holds {len(parts):,} parts, more than {MOST_PARTS:,}, as no workbook does")
    if whole > MOST_BYTES:
        raise WorkbookError(f"it unpacks to more than {MOST_BYTES >> 30} GiB")
    if whole > max(FREE_BYTES, packed_bytes * MOST_TIMES):
        raise WorkbookError(f"it unpacks to more than {MOST_TIMES} times its size, as no workbook does")
    if sum(part.compress_size for part in parts) > packed_bytes:  # parts that share bytes are made to explode
        raise WorkbookError(DAMAGED)
    if any(part.flag_bits & ENCRYPTED_PART for part in parts):
        raise WorkbookError(PROTECTED)
    if any(part.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED} for part in parts):
        raise WorkbookError("a part of it is packed by a method other than deflate")


def _check_starts(archive: zipfile.ZipFile) -> None:
    for name in archive.namelist():
        if name.endswith((".xml", ".rels")):
            with archive.open(name) as stream:
                if b"<!DOCTYPE" in stream.read(START_BYTES).replace(b"\0", b""):  # UTF-16 has a nought beside each
                    _refuse_doctype()


def _refuse_doctype(*_: object) -> None:
    raise WorkbookError(DAMAGED)  # no workbook has one; it would only define what explodes


@contextmanager
def _plain_words() -> Iterator[None]:
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, expat.ExpatError, OSError, EOFError, LookupError, RuntimeError, ValueError):
        raise WorkbookError(DAMAGED) from None
