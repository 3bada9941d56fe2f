"""Lines and their numbers, against the standard library's universal newlines and codecs."""

from __future__ import annotations

import gzip
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.lines import open_text, prepend, read_blocks, rest_of

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
@given(PIECES, st.integers(1, 9))
def test_any_block_size_gives_the_lines_of_universal_newlines(pieces: list[bytes], block_bytes: int) -> None:
    data = b"".join(pieces)
    # Reference: io.TextIOWrapper with newline=None; latin-1 keeps each byte, so damage can be told line by line.
    reference = [line.removesuffix("\n").encode("latin-1") for line in io.TextIOWrapper(io.BytesIO(data), "latin-1")]
    lines, damaged = _lines(data, block_bytes)
    assert lines == [line.decode("utf-8", "backslashreplace") for line in reference]
    assert damaged == [number for number, line in enumerate(reference, start=1) if b"\xff" in line]


def test_a_byte_order_mark_is_no_part_of_the_first_line() -> None:
    assert _lines(b"\xef\xbb\xbfat\n\xef\xbb\xbfx", 4) == (["at", "\ufeffx"], [])


def test_the_rest_of_a_block_goes_before_the_next() -> None:
    first, second, *_ = read_blocks(io.BytesIO(b"a\n\xff\nc\nd\n\xfe\nf"), 7)
    joined = prepend(rest_of(first, 1), second)
    assert (joined.first_line, joined.lines.to_list()[:2]) == (2, ["\\xff", "c"])
    assert {joined.lines[position] for position in joined.damaged} == {"\\xff", "\\xfe"}


@pytest.mark.parametrize("data", [b"", b'a,b\r\n\r\n"x\r\ny"\n \x1f\x00z', b"\xef\xbb\xbfa\n", "é\n".encode() * 90_000])
def test_packed_files_give_the_bytes_that_went_in(tmp_path: Path, zstd_frame, data: bytes) -> None:
    for packing, packed in (("gz", gzip.compress(data)), ("zst", zstd_frame(data)), ("zst", zstd_frame(data) * 2)):
        path = tmp_path / f"a.csv.{packing}"
        path.write_bytes(packed)
        with open_text(FoundFile(path, path.name, EVENTS, "csv", packing)) as stream:
            got = stream.read()
        want = data * (len(packed) // len(zstd_frame(data))) if packing == "zst" else data
        assert got.removeprefix(b"\xef\xbb\xbf") == want.removeprefix(b"\xef\xbb\xbf")


def test_damage_inside_a_zst_file_is_still_seen_on_its_line(tmp_path: Path, zstd_frame) -> None:
    path = tmp_path / "a.csv.zst"
    path.write_bytes(zstd_frame(b"a\nb\xe9c\nd\n"))
    with open_text(FoundFile(path, path.name, EVENTS, "csv", "zst")) as stream:
        (block,) = read_blocks(stream)
    assert (block.lines.to_list(), block.damaged) == (["a", "b\\xffc", "d"], {1})


@pytest.mark.parametrize("packing", ["gz", "zst"])
def test_a_file_not_packed_as_its_name_says_is_one_plain_line(tmp_path: Path, zstd_frame, packing: str) -> None:
    whole = gzip.compress(b"at\n" * 1000) if packing == "gz" else zstd_frame(b"at\n" * 1000)
    for damaged in (b"at,machine\n", whole[:-9]):
        path = tmp_path / f"a.csv.{packing}"
        path.write_bytes(damaged)
        with (
            pytest.raises(FeedError, match=rf'^"a.csv.{packing}" cannot be read: [^\n]+$'),
            open_text(FoundFile(path, path.name, EVENTS, "csv", packing)) as stream,
        ):
            stream.read()
