"""A stream made of pieces, against the pieces joined."""

from __future__ import annotations

import io

from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.text.byte_stream import pieces_of, stream_of


@given(st.lists(st.binary(max_size=5), max_size=8), st.lists(st.integers(0, 7), max_size=20))
def test_reads_of_any_size_give_the_pieces_in_order(pieces: list[bytes], sizes: list[int]) -> None:
    stream = stream_of(pieces)
    reference = io.BytesIO(b"".join(pieces))
    assert [stream.read(size) for size in sizes] == [reference.read(size) for size in sizes]
    assert stream.read() == reference.read()


def test_a_piece_is_asked_for_only_when_it_is_needed() -> None:
    asked: list[int] = []

    def pieces():
        for number in range(3):
            asked.append(number)
            yield b"x" * io.DEFAULT_BUFFER_SIZE

    assert stream_of(pieces()).read(10) == b"x" * 10
    assert asked == [0]


def test_pieces_are_at_most_a_mebibyte() -> None:
    # 2.5 MiB are two whole pieces and a half.
    assert [len(piece) for piece in pieces_of(io.BytesIO(bytes(5 << 19)))] == [1 << 20, 1 << 20, 1 << 19]
