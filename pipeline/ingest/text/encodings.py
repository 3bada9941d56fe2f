"""Turns text of any encoding into UTF-8, a piece at a time, so that the readers know one encoding only.

Bytes that are no text in their encoding are shown as ``\\xNN`` behind a mark that is not UTF-8 either: so the reader of
lines finds the line damaged, and the bytes are not lost.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import BinaryIO

from pipeline.ingest.batch import NOT_UTF8
from pipeline.ingest.text.byte_stream import pieces_of, stream_of
from pipeline.ingest.text.lines import LONGEST_LINE, UNDECODED

MIXED = "mixed"
FALLBACK = "windows-1252"
HEAD_BYTES = 4096
BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # before that of UTF-16, with which it begins
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
WITHOUT_BOUND = {"utf-7"}  # its decoder holds a run of base64 until it ends
LONG_LETTER = re.compile(rb"[\xc2-\xf4][\x80-\xbf]")
SHOW = "airhours-show"
MARK = UNDECODED.decode("utf-8", "surrogatepass")


def is_encoding(name: str) -> bool:
    """Whether ``name`` is ``mixed`` or a text codec of Python that can be read as a stream."""
    if name == MIXED:
        return True
    try:
        b"a".decode(name, "ignore")  # refuses codecs that are not for text
        codecs.getincrementaldecoder(name)(SHOW).decode(b"a")
    except (LookupError, ValueError):
        return False
    return codecs.lookup(name).name not in WITHOUT_BOUND


def is_utf8(encoding: str) -> bool:
    """Whether ``encoding``, as ``is_encoding`` allows or empty, is a name of UTF-8."""
    return encoding not in {"", MIXED} and codecs.lookup(encoding).name == "utf-8"


def recognise_encoding(head: bytes) -> str:
    """The encoding of a text that begins with ``head``: utf-8, utf-16 or utf-32 by its byte order mark, else mixed.

    Without a mark it is utf-16-le or utf-16-be if half of the letters or more have NUL for one of their two bytes,
    always the same one.
    """
    for mark, name in BYTE_ORDER_MARKS:
        if head.startswith(mark):
            return name
    letters = len(head) // 2
    nuls = (head[: 2 * letters : 2].count(0), head[1 : 2 * letters : 2].count(0))
    if min(nuls) == 0 and max(nuls) * 2 >= max(letters, 1):
        return "utf-16-be" if nuls[0] else "utf-16-le"
    return MIXED


def decoded(stream: BinaryIO, encoding: str = "") -> BinaryIO:
    """The text of ``stream`` as UTF-8; ``encoding`` as ``is_encoding`` allows, or empty to recognise it.

    UTF-8 itself is passed on as it stands; a byte order mark stays, written in UTF-8. ``mixed`` is line by line: UTF-8
    if the line is, else Windows-1252.
    """
    if is_utf8(encoding):
        return stream
    head = stream.read(HEAD_BYTES)
    encoding = encoding or recognise_encoding(head)
    pieces = chain((head,), pieces_of(stream))
    if encoding == MIXED:
        return stream_of(_mend_lines(pieces))
    return stream_of(pieces if is_utf8(encoding) else _transcode(pieces, _with_byte_order(encoding, head)))


def not_text(encoding: str) -> str:
    """Why a row is set aside that holds bytes which are no text in ``encoding``."""
    if is_utf8(encoding):
        return NOT_UTF8
    name = {"": "the encoding of the file", MIXED: "UTF-8 or Windows-1252"}.get(encoding, encoding)
    return f"The row holds bytes that are no text in {name} (shown as \\xNN). Name the encoding, or export as UTF-8."


def _with_byte_order(encoding: str, head: bytes) -> str:
    """UTF-16 and UTF-32 by the byte order they are in, little-endian if nothing tells; any other encoding as it is."""
    name = codecs.lookup(encoding).name
    if name not in {"utf-16", "utf-32"}:
        return encoding
    is_big = head.startswith((codecs.BOM_UTF16_BE, codecs.BOM_UTF32_BE)) or recognise_encoding(head) == "utf-16-be"
    return f"{name}-{'be' if is_big else 'le'}"


def _transcode(pieces: Iterable[bytes], encoding: str) -> Iterator[bytes]:
    decoder = codecs.getincrementaldecoder(encoding)(SHOW)
    for piece in pieces:
        yield decoder.decode(piece).encode("utf-8", "surrogatepass")
    yield decoder.decode(b"", final=True).encode("utf-8", "surrogatepass")


def _mend_lines(pieces: Iterable[bytes]) -> Iterator[bytes]:
    held = b""
    for piece in pieces:
        cut = max(piece.rfind(b"\n"), piece.rfind(b"\r")) + 1
        if cut:
            yield _mended(held + piece[:cut])
            held = b""
        held += piece[cut:]
        if len(held) > LONGEST_LINE:  # it will be set aside, whatever it says
            yield held
            held = b""
    yield _mended(held)


def _mended(data: bytes) -> bytes:
    try:
        data.decode()
    except UnicodeDecodeError:
        is_uniform = not LONG_LETTER.search(data)  # then no line that is not ASCII is UTF-8
        return b"".join(map(_mended_line, [data] if is_uniform else data.splitlines(keepends=True)))
    return data


def _mended_line(line: bytes) -> bytes:
    try:
        line.decode()
    except UnicodeDecodeError:
        return line.decode(FALLBACK, SHOW).encode("utf-8", "surrogatepass")
    return line


def _show(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    shown = "".join(f"\\x{byte:02x}" for byte in error.object[error.start : error.end])
    return f"{MARK}{shown}", error.end


codecs.register_error(SHOW, _show)
