"""Unfolds the lines of a calendar file (RFC 5545 section 3.1) before they are decoded: a fold may split a letter.

Memory is bounded: of a value of any length only the beginning is kept, and how much is left out is counted.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import BinaryIO, NamedTuple

from pipeline.ingest.text.lines import BYTE_ORDER_MARK, UNDECODED

CHUNK_BYTES = 1024 * 1024
MOST_BYTES = 64 * 1024  # kept of one line
CONTENT = re.compile(r'([A-Z0-9-]+)((?:;(?:[^":;]|"[^"]*")*)*):(.*)', re.IGNORECASE | re.DOTALL | re.ASCII)


class ContentLine(NamedTuple):
    """An unfolded line: its name in capitals, its parameters as written and its value."""

    name: str
    parameters: str
    value: str


@dataclass
class UnfoldedLine:
    """A line of RFC 5545: ``data`` unfolded, ``shown`` as it stands in the file from physical line ``number`` on.

    ``dropped`` counts bytes that are left out at its end.
    """

    number: int
    data: bytes = b""
    shown: list[bytes] = field(default_factory=list)
    dropped: int = 0

    def text(self) -> str | None:
        """``data`` decoded, or None where it is no UTF-8; of a line cut short the last letter may be half."""
        return _decoded(self.data, is_cut=self.dropped > 0)

    def content(self) -> ContentLine | None:
        """Name, parameters and value, or None where the line has no such parts."""
        text = self.text()
        found = CONTENT.fullmatch(text) if text else None
        return ContentLine(found[1].upper(), found[2], found[3]) if found else None

    def as_it_stands(self) -> bytes:
        """The physical lines joined by LF; unfolded where a fold splits a letter, which no text can show."""
        physical = b"\n".join(self.shown)
        is_split = _decoded(physical, is_cut=self.dropped > 0) is None and self.text() is not None
        return self.data if is_split else physical


def unfolded_lines(stream: BinaryIO) -> Iterator[UnfoldedLine]:
    """The lines of ``stream``, folded ones as one, without the byte order marks of files put behind one another."""
    line: UnfoldedLine | None = None
    pieces: list[bytes] = []
    room = MOST_BYTES
    for number, (data, dropped) in enumerate(physical_lines(stream), start=1):
        is_more = line is not None and data[:1] in {b" ", b"\t"}
        if line is None or not is_more:
            if line is not None:
                line.data = b"".join(pieces)
                yield line
            data = data.removeprefix(BYTE_ORDER_MARK)  # noqa: PLW2901
            line, pieces, room = UnfoldedLine(number), [], MOST_BYTES
        if line.dropped:
            line.dropped += len(data) - is_more + dropped
            continue
        line.dropped = max(0, len(data) - is_more - room) + dropped
        pieces.append(data[is_more : is_more + room])
        line.shown.append(data[: is_more + room])
        room -= len(pieces[-1])
    if line is not None:
        line.data = b"".join(pieces)
        yield line


def physical_lines(stream: BinaryIO) -> Iterator[tuple[bytes, int]]:
    """The lines of ``stream`` without their ends (LF, CRLF or CR), and how many bytes are left out of a long one."""
    held, dropped = b"", 0
    while chunk := stream.read(CHUNK_BYTES):
        pieces = (held + chunk).splitlines(keepends=True)
        held = b"" if pieces[-1].endswith(b"\n") else pieces.pop()  # a CR at the end may be half of a CRLF
        for piece in pieces:
            yield piece.rstrip(b"\r\n"), dropped
            dropped = 0
        if len(held) > 2 * MOST_BYTES:
            kept = held[: 2 * MOST_BYTES] + held[-1:] * held.endswith(b"\r")
            held, dropped = kept, dropped + len(held) - len(kept)
    if held:
        yield held.rstrip(b"\r\n"), dropped


def shown_text(data: bytes) -> str:
    """``data`` decoded for a person: bytes that are no UTF-8 as ``\\xNN``."""
    return data.replace(UNDECODED, b"").decode("utf-8", "backslashreplace")


def _decoded(data: bytes, *, is_cut: bool) -> str | None:
    try:
        return codecs.utf_8_decode(data, "strict", not is_cut)[0]
    except UnicodeDecodeError:
        return None
