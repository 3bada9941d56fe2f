"""Writes a small .xlsb workbook record by record, as [MS-XLSB] has it, since no library here writes one."""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Sequence
from pathlib import Path

DATE, ELAPSED = 1, 2  # places in the styles
TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="bin" ContentType="application/vnd.ms-excel.sheet.binary.macroEnabled.main"/></Types>'
)
RELATIONS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="rId1" Type="t" Target="worksheets/sheet1.bin"/></Relationships>'
)


def record(kind: int, data: bytes = b"") -> bytes:
    """Kind and size in bytes of seven bits, the lowest first."""
    return _number(kind) + _number(len(data)) + data


def text(value: str) -> bytes:
    return struct.pack("<I", len(value)) + value.encode("utf-16-le")


def cell(column: int, value: object, style: int = 0) -> bytes:
    """BrtCellSt, BrtCellBool, BrtCellReal, or BrtCellError for a number in brackets; an int is a BrtCellRk."""
    head = struct.pack("<II", column, style)
    if isinstance(value, str):
        return record(6, head + text(value))
    if isinstance(value, bool):
        return record(4, head + bytes([value]))
    if isinstance(value, int):
        return record(2, head + struct.pack("<i", value << 2 | 2))
    if isinstance(value, float):
        return record(5, head + struct.pack("<d", value))
    (code,) = value  # type: ignore[misc]
    return record(3, head + bytes([code]))


def formula_error(column: int, code: int) -> bytes:
    """BrtFmlaError with an empty formula."""
    return record(11, struct.pack("<II", column, 0) + bytes([code]) + b"\0\0" + struct.pack("<II", 0, 0))


def write_xlsb(path: Path, rows: Sequence[tuple[int, Sequence[bytes]]], name: str = "Tickets") -> None:
    """A workbook of one sheet; each row is its number from 0 and its cells."""
    sheet = record(0x81) + record(0x93, bytes(23)) + record(0x94, bytes(16)) + record(0x91)
    for number, cells in rows:
        sheet += record(0, struct.pack("<I", number) + bytes(13)) + b"".join(cells)
    sheet += record(0x92) + record(0x82)
    book = record(0x83) + record(0x99, bytes(12)) + record(0x8F)
    book += record(0x9C, struct.pack("<II", 0, 1) + text("rId1") + text(name)) + record(0x90)
    book += record(0x9D, bytes(26)) + record(0x84)
    formats = [(164, "yyyy\\-mm\\-dd hh:mm"), (165, "[h]:mm")]
    styles = record(0x116) + record(0x267, struct.pack("<I", len(formats)))
    styles += b"".join(record(0x2C, struct.pack("<H", number) + text(code)) for number, code in formats)
    styles += record(0x268) + record(0x269, struct.pack("<I", 3))
    styles += b"".join(record(0x2F, struct.pack("<HH", 0, number) + bytes(12)) for number in (0, 164, 165))
    styles += record(0x26A) + record(0x117)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("xl/workbook.bin", book)
        archive.writestr("xl/_rels/workbook.bin.rels", RELATIONS)
        archive.writestr("xl/worksheets/sheet1.bin", sheet)
        archive.writestr("xl/styles.bin", styles)


def _number(value: int) -> bytes:
    parts = bytearray()
    while True:
        parts.append(value & 0x7F | (0x80 if value > 0x7F else 0))
        value >>= 7
        if not value:
            return bytes(parts)
