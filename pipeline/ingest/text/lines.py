"""Turns the bytes of a text file into numbered lines, a block at a time, so that memory stays bounded.

Line numbers are those an editor shows: the first line is 1, blank lines count. A line that is not UTF-8 spoils no
other line. Line ends may be LF, CRLF or CR, also mixed; inside a quoted cell each becomes LF, so that the same export
written on another system gives the same rows. Of a line longer than 16 MiB only the beginning is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import accumulate
from typing import BinaryIO

import polars as pl

BLOCK_BYTES = 32 * 1024 * 1024
MOST_LINES = 1_000_000  # of a block: what a line costs beside its bytes is many times a short one
LONGEST_LINE = 16 * 1024 * 1024
FIRST_PART = 64 * 1024
LONGEST_LETTER = 4  # bytes of UTF-8
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
UNDECODED = b"\xed\xb3\xbf"  # stands before bytes that are shown, since they are no text in the file's encoding


@dataclass(frozen=True)
class Block:
    """Lines that follow each other, without their ends; the first is number ``first_line``.

    ``damaged`` holds positions whose line is not as it stands in the file: its bytes are not UTF-8 and shown as
    ``\\xNN``, or it is too long, when ``left_out`` says how many bytes its text lacks. ``has_quotes`` and ``has_nul``
    say whether the block holds such a character at all.
    """

    first_line: int
    lines: pl.Series
    damaged: frozenset[int]
    has_quotes: bool
    has_nul: bool
    is_last: bool
    left_out: Mapping[int, int] = field(default_factory=dict)

    def why_damaged(self, position: int, not_text: str) -> str:
        """Why the line at ``position`` is set aside, in a sentence; ``not_text`` if it holds bytes that are no text."""
        if position not in self.left_out:
            return not_text
        return (
            f"The line is longer than {LONGEST_LINE >> 20} MiB; {self.left_out[position]:,} bytes of it are left out "
            "here. Is the file the export it is named for?"
        )


def read_blocks(
    stream: BinaryIO, block_bytes: int = BLOCK_BYTES, *, quote: str = '"', first_line: int = 1
) -> Iterator[Block]:
    """The lines of ``stream`` in blocks of about ``block_bytes`` bytes, and at most a million lines.

    The last block is marked, and may be empty.

    A stream that begins in the middle of a file begins with its ``first_line``.
    """
    mark = BYTE_ORDER_MARK if first_line == 1 else b""
    for data, dropped, is_last in _chunks(stream, block_bytes, mark):
        text = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in data else data
        pieces = _halved(text)
        for place, piece in enumerate(pieces, start=1):
            lacking = dropped if place == 1 else 0
            lines, damaged, left_out = _split(piece.removesuffix(b"\n"), lacking) if piece else _split_nothing()
            has_quotes = bool(quote) and quote.encode() in piece
            is_end = is_last and place == len(pieces)
            yield Block(first_line, lines, damaged, has_quotes, b"\x00" in piece, is_end, left_out)
            first_line += lines.len()


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
        {**before.left_out, **{position + shift: count for position, count in block.left_out.items()}},
    )


def rest_of(block: Block, position: int) -> Block:
    """The lines of ``block`` from ``position`` on."""
    return part_of(block, position, block.lines.len())


def part_of(block: Block, start: int, end: int) -> Block:
    """The lines of ``block`` from position ``start`` to before ``end``; the last block if others follow in it."""
    inner = range(start, end)
    return Block(
        block.first_line + start,
        block.lines.slice(start, end - start).rechunk(),
        frozenset(each - start for each in block.damaged.intersection(inner)) if block.damaged else frozenset(),
        block.has_quotes,
        block.has_nul,
        block.is_last or end < block.lines.len(),
        {each - start: count for each, count in block.left_out.items() if each in inner},
    )


def lines_from(block: Block, position: int, count: int) -> tuple[list[str], bool]:
    """The line at ``position`` and those that follow, at most ``count`` and 16 MiB, up to one that is too long.

    Also whether the block ends before either bound, so that more lines may follow in the next.
    """
    end = min((each for each in block.left_out if each > position), default=position + count)
    lines = block.lines.slice(position, min(end - position, count)).to_list()
    if sum(map(len, lines)) * LONGEST_LETTER > LONGEST_LINE:  # else they fit, however they are written
        sizes = accumulate(len(line.encode()) for line in lines)
        lines = [line for line, size in zip(lines, sizes, strict=True) if size <= LONGEST_LINE]
    is_open = not block.is_last and position + len(lines) == block.lines.len() and len(lines) < count
    return lines, is_open


def _chunks(stream: BinaryIO, block_bytes: int, mark: bytes) -> Iterator[tuple[bytes, int, bool]]:
    """Whole lines, how many bytes the first of them lacks because it is too long, and whether they are the last."""
    held, dropped = stream.read(max(block_bytes, len(mark))).removeprefix(mark), 0
    while more := stream.read(block_bytes):
        # A CR at the very end may be half of a CRLF, so it is not yet a place to cut.
        cut = max(held.rfind(b"\n"), held.rfind(b"\r", 0, -1)) + 1
        if cut:
            yield held[:cut], dropped, False
            held, dropped = held[cut:], 0
        if dropped or len(held) > LONGEST_LINE + 1:
            kept = held[: FIRST_PART + LONGEST_LETTER] + held[-1:]
            held, dropped = kept, dropped + len(held) - len(kept)
        held += more
    yield held, dropped, True


def _halved(text: bytes) -> list[bytes]:
    """``text`` cut at line ends until no piece has more than a million."""
    if text.count(b"\n") <= MOST_LINES:
        return [text]
    half = len(text) // 2
    cut = text.find(b"\n", half, -1) + 1 or text.rfind(b"\n", 0, half) + 1
    return [*_halved(text[:cut]), *_halved(text[cut:])]


def _split_nothing() -> tuple[pl.Series, frozenset[int], dict[int, int]]:
    return pl.Series("line", [], pl.String), frozenset(), {}


def _split(data: bytes, dropped: int) -> tuple[pl.Series, frozenset[int], dict[int, int]]:
    if not dropped and not _holds_long_line(data):
        with suppress(UnicodeDecodeError):
            return pl.Series("line", [data.decode()]).str.split("\n").explode(), frozenset(), {}
    parts = data.split(b"\n")
    left_out: dict[int, int] = {}
    for position, part in enumerate(parts):
        lacking = 0 if position else dropped
        if lacking or len(part) > LONGEST_LINE:
            parts[position] = _first_part(part)
            left_out[position] = lacking + len(part) - len(parts[position])
    damaged = {position for position, part in enumerate(parts) if not is_text(part)}
    lines = [part.replace(UNDECODED, b"").decode("utf-8", "backslashreplace") for part in parts]
    return pl.Series("line", lines), frozenset(damaged | left_out.keys()), left_out


def _holds_long_line(data: bytes) -> bool:
    start = 0
    while len(data) - start > LONGEST_LINE:
        end = data.rfind(b"\n", start, start + LONGEST_LINE + 1)
        if end < 0:
            return True
        start = end + 1
    return False


def _first_part(line: bytes) -> bytes:
    """The beginning of ``line``, cut between two letters."""
    end = FIRST_PART
    while end > FIRST_PART - LONGEST_LETTER and line[end] & 0xC0 == 0x80:  # a byte that continues a letter
        end -= 1
    return line[:end]


def is_text(data: bytes) -> bool:
    """Whether the bytes are UTF-8."""
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return True
