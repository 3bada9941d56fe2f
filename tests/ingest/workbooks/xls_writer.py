"""Writes small compound files, [MS-CFB], and .xls workbooks in them, [MS-XLS], record by record, right or broken."""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence

SECTOR = 512
END, FREE, TABLE = 0xFFFFFFFE, 0xFFFFFFFF, 0xFFFFFFFD
PLAIN, DATE, ELAPSED = 0, 1, 2  # places in the styles


def compound(streams: Mapping[str, bytes]) -> bytes:
    """A compound file of version 3: header, one sector of following numbers, one of entries, then the streams.

    Streams are filled up to 4,096 bytes, so that none lies in the mini stream; 126 sectors are the most.
    """
    following = [TABLE, END]
    entries = [_entry("Root Entry", 5, END, 0)]
    content = b""
    for name, stream in streams.items():
        data = stream.ljust(4096, b"\0")
        count = -(-len(data) // SECTOR)
        first = len(following)
        following += [*range(first + 1, first + count), END]
        entries.append(_entry(name, 2, first, len(data)))
        content += data.ljust(count * SECTOR, b"\0")
    assert len(following) <= SECTOR // 4
    assert len(entries) <= SECTOR // 128
    table = struct.pack("<128I", *following, *[FREE] * (128 - len(following)))
    return _header() + table + b"".join(entries).ljust(SECTOR, b"\0") + content


def _header() -> bytes:
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6) + bytes(6)
    # sectors of the directory, of the table; first of the directory; transaction; shortest stream; mini, and the rest
    head += struct.pack("<IIIIIIIII", 0, 1, 1, 0, 4096, END, 0, END, 0)
    return head + struct.pack("<109I", 0, *[FREE] * 108)


def _entry(name: str, kind: int, first: int, size: int) -> bytes:
    raw = name.encode("utf-16-le")
    entry = raw.ljust(64, b"\0") + struct.pack("<HBBIII", len(raw) + 2, kind, 1, FREE, FREE, FREE) + bytes(36)
    return entry + struct.pack("<IQ", first, size)


def record(kind: int, data: bytes = b"") -> bytes:
    return struct.pack("<HH", kind, len(data)) + data


def number(row: int, column: int, value: float, style: int = PLAIN) -> bytes:
    return record(0x0203, struct.pack("<HHHd", row, column, style, value))


def label(row: int, column: int, value: str) -> bytes:
    return record(0x0204, struct.pack("<HHHHB", row, column, PLAIN, len(value), 1) + value.encode("utf-16-le"))


def error(row: int, column: int, code: int) -> bytes:
    return record(0x0205, struct.pack("<HHHBB", row, column, PLAIN, code, 1))


def flag(row: int, column: int, value: bool) -> bytes:
    return record(0x0205, struct.pack("<HHHBB", row, column, PLAIN, value, 0))


def formula_error(row: int, column: int, code: int) -> bytes:
    result = struct.pack("<BBBBBBH", 2, 0, code, 0, 0, 0, 0xFFFF)
    return record(0x0006, struct.pack("<HHH", row, column, PLAIN) + result + struct.pack("<HIH", 0, 0, 0))


def integers(row: int, column: int, values: Sequence[int]) -> bytes:
    """MulRk: whole numbers side by side."""
    cells = b"".join(struct.pack("<Hi", PLAIN, value << 2 | 2) for value in values)
    return record(0x00BD, struct.pack("<HH", row, column) + cells + struct.pack("<H", column + len(values) - 1))


def dimensions(end_row: int, end_column: int) -> bytes:
    return record(0x0200, struct.pack("<IIHHH", 0, end_row, 0, end_column, 0))


def workbook(sheets: Mapping[str, bytes], extra: bytes = b"", *, is_1904: bool = False) -> bytes:
    """The stream of a workbook with these sheets, each the records between its beginning and its end."""
    begin, end = record(0x0809, struct.pack("<HHHHII", 0x0600, 0x05, 0, 0, 0, 0)), record(0x000A)
    formats = [(164, "yyyy\\-mm\\-dd hh:mm"), (165, "[h]:mm")]
    head = begin + record(0x0042, struct.pack("<H", 1200)) + record(0x0022, struct.pack("<H", is_1904))
    for key, code in formats:
        head += record(0x041E, struct.pack("<HHB", key, len(code), 0) + code.encode("latin-1"))
    head += b"".join(record(0x00E0, struct.pack("<HH", 0, key) + bytes(16)) for key in (0, 164, 165)) + extra
    names = [record(0x0085, struct.pack("<IBBBB", 0, 0, 0, len(name), 0) + name.encode("latin-1")) for name in sheets]
    place = len(head) + sum(map(len, names)) + len(end)
    tail = b""
    for k, (name, content) in enumerate(sheets.items()):
        whole = begin + content + end
        names[k] = record(0x0085, struct.pack("<IBBBB", place + len(tail), 0, 0, len(name), 0) + name.encode("latin-1"))
        tail += whole
    return head + b"".join(names) + end + tail


def xls(sheets: Mapping[str, bytes], extra: bytes = b"", *, is_1904: bool = False) -> bytes:
    return compound({"Workbook": workbook(sheets, extra, is_1904=is_1904)})
