"""Turns the bytes of a text file into numbered lines, a block at a time, so that memory stays bounded.

Line numbers are those an editor shows: the first line is 1, blank lines count. A line that is not UTF-8 spoils no
other line. Line ends may be LF, CRLF or CR, also mixed; inside a quoted cell each becomes LF, so that the same export
written on another system gives the same rows.
"""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import polars as pl
from polars.exceptions import PolarsError

from pipeline.ingest.find import FoundFile, unreadable

BLOCK_BYTES = 32 * 1024 * 1024
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
ZSTD_MAGIC = b"\x28\xb5\x2f\xfd"
# Pairs of control characters of which a text holds hardly one, and never both of all pairs.
ABSENT_PAIRS = (("\x1f", "\x1e"), ("\x02", "\x03"), ("\x05", "\x06"), ("\x11", "\x12"))


@dataclass(frozen=True)
class Block:
    """Lines that follow each other, without their ends; the first is number ``first_line``.

    ``damaged`` holds positions whose bytes are not UTF-8; their text shows those bytes as ``\\xNN``. ``has_quotes`` and
    ``has_nul`` say whether the block holds such a character at all.
    """

    first_line: int
    lines: pl.Series
    damaged: frozenset[int]
    has_quotes: bool
    has_nul: bool
    is_last: bool


@contextmanager
def open_text(found: FoundFile) -> Iterator[BinaryIO]:
    """The bytes of a text file, unpacked.

    Raises:
        FeedError: it cannot be opened or is not packed as its name says.
    """
    try:
        if found.packing == "gz":
            with gzip.open(found.path, "rb") as stream:
                yield stream  # type: ignore[misc]
        elif found.packing == "zst":
            yield BytesIO(_unpack_zstd(found.path))
        else:
            with found.path.open("rb") as stream:
                yield stream
    except (OSError, EOFError, zlib.error, PolarsError) as error:
        raise unreadable(found.file, error) from None


def read_blocks(stream: BinaryIO, block_bytes: int = BLOCK_BYTES) -> Iterator[Block]:
    """The lines of ``stream`` in blocks of about ``block_bytes`` bytes; the last block is marked, and may be empty."""
    first_line = 1
    for data, is_last in _chunks(stream, block_bytes):
        block = _block(data, first_line, is_last)
        first_line += block.lines.len()
        yield block


def prepend(before: Block | None, block: Block) -> Block:
    """``block`` with the unfinished lines ``before`` it put back in front."""
    if before is None:
        return block
    shift = before.lines.len()
    return Block(
        before.first_line,
        pl.concat([before.lines, block.lines]),
        before.damaged | {position + shift for position in block.damaged},
        before.has_quotes or block.has_quotes,
        before.has_nul or block.has_nul,
        block.is_last,
    )


def rest_of(block: Block, position: int) -> Block:
    """The lines of ``block`` from ``position`` on."""
    damaged = frozenset(each - position for each in block.damaged if each >= position)
    lines = block.lines.slice(position).rechunk()
    return Block(block.first_line + position, lines, damaged, block.has_quotes, block.has_nul, block.is_last)


def _chunks(stream: BinaryIO, block_bytes: int) -> Iterator[tuple[bytes, bool]]:
    held = stream.read(block_bytes).removeprefix(BYTE_ORDER_MARK)
    while more := stream.read(block_bytes):
        # A CR at the very end may be half of a CRLF, so it is not yet a place to cut.
        cut = max(held.rfind(b"\n"), held.rfind(b"\r", 0, -1)) + 1
        if cut:
            yield held[:cut], False
        held = held[cut:] + more
    yield held, True


def _block(data: bytes, first_line: int, is_last: bool) -> Block:
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    lines, damaged = _split(data.removesuffix(b"\n")) if data else (pl.Series("line", [], pl.String), frozenset())
    return Block(first_line, lines, damaged, b'"' in data, b"\x00" in data, is_last)


def _split(data: bytes) -> tuple[pl.Series, frozenset[int]]:
    try:
        return pl.Series("line", [data.decode()]).str.split("\n").explode(), frozenset()
    except UnicodeDecodeError:
        parts = data.split(b"\n")
    damaged = frozenset(position for position, part in enumerate(parts) if not _is_text(part))
    return pl.Series("line", [part.decode("utf-8", "backslashreplace") for part in parts]), damaged


def _is_text(data: bytes) -> bool:
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return True


def _unpack_zstd(path: Path) -> bytes:
    """The whole unpacked text: polars unpacks it as a CSV of one cell, ended by characters the text does not hold.

    Where bytes are not UTF-8, each such run comes as one byte 0xFF, so its line is still found to be damaged.
    """
    with path.open("rb") as stream:
        head = stream.read(4)
    if not head:
        return b""
    if head != ZSTD_MAGIC:
        raise OSError("it is not packed with zstd")
    for separator, end in ABSENT_PAIRS:
        text = _one_cell(path, separator, end)
        if text is not None:
            return text
    raise OSError("it holds control characters all over; unpack it first")


def _one_cell(path: Path, separator: str, end: str) -> bytes | None:
    try:
        frame = _cells(path, separator, end, "utf8")
        mend = (b"", b"")
    except PolarsError as error:
        if "utf-8" not in str(error):
            return None
        frame = _cells(path, separator, end, "utf8-lossy")
        mend = ("\ufffd".encode(), b"\xff")
    if frame.height == 0:
        return b""
    data: bytes = frame.to_series().cast(pl.Binary).item(0)
    if frame.shape != (1, 1):
        return None
    return data.replace(*mend) if mend[0] else data


def _cells(path: Path, separator: str, end: str, encoding: str) -> pl.DataFrame:
    return pl.read_csv(
        path,
        has_header=False,
        separator=separator,
        eol_char=end,
        quote_char=None,
        schema={"text": pl.String},
        empty_string_is_null=False,
        encoding=encoding,
    )
