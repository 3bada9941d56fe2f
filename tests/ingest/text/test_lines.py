"""Lines and their numbers, against the standard library's universal newlines and codecs."""

from __future__ import annotations

import io
import tracemalloc

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.ingest.text import lines as lines_module
from pipeline.ingest.text.lines import Block, lines_from, part_of, prepend, read_blocks, rest_of

PIECES = st.lists(
    st.sampled_from([b"\n", b"\r\n", b"\r", b"a", b"bc", b'"', "é".encode(), b"\x00", b"\xff"]), max_size=30
)


def _lines(data: bytes, block_bytes: int) -> tuple[list[str], list[int]]:
    lines: list[str] = []
    damaged: list[int] = []
    for block in read_blocks(io.BytesIO(data), block_bytes):
        assert block.first_line == len(lines) + 1
        damaged += [len(lines) + position + 1 for position in sorted(block.damaged)]
        lines += block.lines.to_list()
    return lines, damaged


@settings(deadline=None)
@given(PIECES, st.sampled_from([*range(1, 10), 1000]), st.integers(1, 4))
def test_any_block_size_gives_the_lines_of_universal_newlines(
    pieces: list[bytes], block_bytes: int, most_lines: int
) -> None:
    data = b"".join(pieces)
    # Reference: io.TextIOWrapper with newline=None; latin-1 keeps each byte, so damage can be told line by line.
    reference = [line.removesuffix("\n").encode("latin-1") for line in io.TextIOWrapper(io.BytesIO(data), "latin-1")]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lines_module, "MOST_LINES", most_lines)
        lines, damaged = _lines(data, block_bytes)
    assert lines == [line.decode("utf-8", "backslashreplace") for line in reference]
    assert damaged == [number for number, line in enumerate(reference, start=1) if b"\xff" in line]


def test_a_block_has_no_more_lines_than_it_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lines_module, "MOST_LINES", 3)
    blocks = list(read_blocks(io.BytesIO(b"a\n" * 20 + b"b")))
    assert [block.is_last for block in blocks] == [False] * (len(blocks) - 1) + [True]
    # A line end ends the last line of a piece, so that only the last piece, which has none, may have one line more.
    assert max(block.lines.len() for block in blocks) <= 4
    assert sum(block.lines.len() for block in blocks) == 21


def test_a_byte_order_mark_is_no_part_of_the_first_line() -> None:
    assert _lines(b"\xef\xbb\xbfat\n\xef\xbb\xbfx", 4) == (["at", "\ufeffx"], [])


def test_the_rest_of_a_block_goes_before_the_next() -> None:
    first, second, *_ = read_blocks(io.BytesIO(b"a\n\xff\nc\nd\n\xfe\nf"), 7)
    joined = prepend(rest_of(first, 1), second)
    assert (joined.first_line, joined.lines.to_list()[:2]) == (2, ["\\xff", "c"])
    assert {joined.lines[position] for position in joined.damaged} == {"\\xff", "\\xfe"}


def test_a_stream_from_the_middle_of_a_file_keeps_its_first_bytes_and_its_numbers() -> None:
    (block,) = read_blocks(io.BytesIO(b"\xef\xbb\xbfat\nx"), first_line=7)
    assert (block.first_line, block.lines.to_list()) == (7, ["\ufeffat", "x"])


@pytest.mark.parametrize(("quote", "has_quotes"), [('"', True), ("'", False), ("", False), ("«", True)])
def test_a_block_knows_whether_it_holds_the_quote(quote: str, has_quotes: bool) -> None:
    (block,) = read_blocks(io.BytesIO('a,"b",«c«'.encode()), quote=quote)
    assert block.has_quotes == has_quotes


def test_a_part_of_a_block_keeps_its_numbers_and_what_is_damaged() -> None:
    (block,) = read_blocks(io.BytesIO(b"a\n\xff\nc\n\xfe\ne"))
    part = part_of(block, 1, 4)
    assert (part.first_line, part.lines.to_list(), part.damaged) == (2, ["\\xff", "c", "\\xfe"], {0, 2})
    assert part.is_last


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines of 20 bytes are the longest, and of longer ones 8 are kept."""
    monkeypatch.setattr(lines_module, "LONGEST_LINE", 20)
    monkeypatch.setattr(lines_module, "FIRST_PART", 8)


def _long(data: bytes, block_bytes: int) -> list[tuple[str, int | None]]:
    """Every line, and how many bytes of it were left out."""
    found: list[tuple[str, int | None]] = []
    for block in read_blocks(io.BytesIO(data), block_bytes):
        assert block.left_out.keys() <= block.damaged
        found += [(line, block.left_out.get(position)) for position, line in enumerate(block.lines.to_list())]
    return found


@pytest.mark.parametrize("block_bytes", [1, 2, 3, 7, 20, 21, 22, 64, 1000])
@pytest.mark.parametrize("line_end", [b"\n", b"\r\n", b"\r"])
def test_a_line_that_is_too_long_is_cut_and_its_bytes_counted(short: None, block_bytes: int, line_end: bytes) -> None:
    lines = [b"a", b"x" * 20, b"y" * 21, b"", b"z" * 300, b"b", b"w" * 50]
    # Of 21 bytes 8 are kept and 13 left out; of 300, 292; of 50, 42.
    wanted = [("a", None), ("x" * 20, None), ("y" * 8, 13), ("", None), ("z" * 8, 292), ("b", None), ("w" * 8, 42)]
    assert _long(line_end.join(lines), block_bytes) == wanted
    assert _long(line_end.join([*lines, b""]), block_bytes) == wanted


def test_a_long_line_is_cut_between_two_letters(short: None) -> None:
    # The euro sign has three bytes, so that of a, then euro signs, 1 + 2 * 3 = 7 bytes are whole before the eighth.
    data = b"a" + "€".encode() * 20
    for block_bytes in (1, 5, 1000):
        assert _long(data, block_bytes) == [("a€€", 54)]  # 61 bytes less 7


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 50), st.sampled_from([b"x", "é".encode(), b"\xff"])), max_size=8),
    st.sampled_from([b"\n", b"\r\n", b"\r"]),
    st.integers(1, 40),
)
@example([(21, b"x")], b"\r", 21)
def test_long_lines_never_cost_a_line_nor_a_byte(
    lines: list[tuple[int, bytes]], line_end: bytes, block_bytes: int
) -> None:
    texts = [letter * count for count, letter in lines]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lines_module, "LONGEST_LINE", 20)
        patch.setattr(lines_module, "FIRST_PART", 8)
        found = _long(b"".join(text + line_end for text in texts), block_bytes)
    assert len(found) == len(texts)
    for (line, left_out), text in zip(found, texts, strict=True):
        shown = line.replace("\\xff", "?").encode() if b"\xff" in text else line.encode()
        assert (left_out is not None) == (len(text) > 20)
        assert len(shown) + (left_out or 0) == len(text)


class _Endless(io.RawIOBase):
    """A line of many bytes and a short one, without holding them."""

    def __init__(self, size: int) -> None:
        self.left = size
        self.tail = b"\nlast\n"

    def read(self, size: int = -1) -> bytes:
        count = min(size, self.left)
        self.left -= count
        if count:
            return b"x" * count
        tail, self.tail = self.tail, b""
        return tail


def test_memory_does_not_grow_with_a_line_of_half_a_gigabyte() -> None:
    tracemalloc.start()
    found: list[tuple[str, int]] = []
    for block in read_blocks(_Endless(512 << 20)):  # type: ignore[arg-type]
        found += [(line, len(line)) for line in block.lines.to_list()]
        reason = block.why_damaged(0, "")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # 512 MiB less the 64 KiB that are kept: 536,870,912 - 65,536 = 536,805,376.
    assert [length for _, length in found] == [65536, 4]
    assert reason.startswith("The line is longer than 16 MiB; 536,805,376 bytes of it are left out here.")
    assert peak < 160 << 20


def _block(lines: list[str], *, is_last: bool, left_out: dict[int, int] | None = None) -> Block:
    (block,) = read_blocks(io.BytesIO("\n".join(lines).encode()))
    return Block(**{**vars(block), "is_last": is_last, "left_out": left_out or {}})


def test_lines_that_may_belong_to_one_record(short: None) -> None:
    block = _block(["a", "bb", "ccc", "d"], is_last=False)
    assert lines_from(block, 1, 2) == (["bb", "ccc"], False)
    assert lines_from(block, 1, 3) == (["bb", "ccc", "d"], False)
    assert lines_from(block, 1, 4) == (["bb", "ccc", "d"], True)
    assert lines_from(_block(["a", "bb"], is_last=True), 0, 4) == (["a", "bb"], False)
    # Twenty bytes in all, whatever the block holds.
    assert lines_from(_block(["x" * 9, "y" * 11, "z"], is_last=False), 0, 9) == (["x" * 9, "y" * 11], False)
    assert lines_from(_block(["x" * 9, "y" * 12, "z"], is_last=False), 0, 9) == (["x" * 9], False)
    # Nothing is known of what stands behind the beginning of a line that is too long.
    assert lines_from(_block(["a", "b", "c"], is_last=False, left_out={1: 99}), 0, 9) == (["a"], False)
