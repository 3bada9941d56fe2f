"""Makes a stream of bytes that come in pieces, so that unpacked and transcoded files are read like any other."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

PIECE_BYTES = 1 << 20


def stream_of(pieces: Iterable[bytes]) -> BinaryIO:
    """The bytes of ``pieces``, one after the other. A piece is asked for when those before it are read."""
    return io.BufferedReader(_Pieces(pieces))


def pieces_of(stream: BinaryIO) -> Iterator[bytes]:
    """The bytes of ``stream`` in pieces of at most 1 MiB."""
    while piece := stream.read(PIECE_BYTES):
        yield piece


class _Pieces(io.RawIOBase):
    def __init__(self, pieces: Iterable[bytes]) -> None:
        self._pieces = iter(pieces)
        self._held = memoryview(b"")

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: WriteableBuffer, /) -> int:
        while not self._held:  # an empty piece is not the end
            piece = next(self._pieces, None)
            if piece is None:
                return 0
            self._held = memoryview(piece)
        wanted = memoryview(buffer).cast("B")
        count = min(len(wanted), len(self._held))
        wanted[:count] = self._held[:count]
        self._held = self._held[count:]
        return count
