"""The quick way through plain text gives what the careful way gives, row by row, whatever the file holds."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import replace

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.batch import Batch, all_aside, with_texts
from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.text import lean_reader
from pipeline.ingest.text.csv_reader import Start, read_csv
from pipeline.ingest.text.lean_reader import read_lean

HEADER = "at,machine,event,value,detail"
WANTED = replace(CANONICAL, wanted=EVENTS.required)
ROW = "2031-03-01T20:00:00,VT1,roll,,"
ODD = (
    *("", " ", ",", ",,,,", ",,,,,", '"', '"a', 'a"b,,,,', '"a,b",c,d,e,f', '"a\nb",c,d,e,f', ROW, f"{ROW}\t"),
    *(f" {ROW}", HEADER, HEADER.upper(), "machine,at,event,detail,value", f"{HEADER},reader", "x,the machine room,,,"),
    *("a\x00b,,,,", "ä,ö,\u00a0x,ſ,\u212a", "\u2003a,b\u2003,,,", "a,b,c,d,e,f,g,h,i", "a", "\ufeffa,b,c,d,e"),
    *("\x1ca,b\x1c,\x0bc,d\x0c,", "x" * 300, f"{ROW}\r{ROW}", "\r", "a,b\rc"),
)  # fmt: skip
LINE = st.sampled_from([ROW] * 60 + [*ODD]) | st.text(st.sampled_from(' ,"\tabä\u2003-:0123'), max_size=12)
FILE = st.tuples(
    st.sampled_from(["", "\ufeff"]),
    st.sampled_from(
        [HEADER] * 6 + ["", "title", "at,machine", "event,machine,at", f"{HEADER},reader", '"at",machine,event']
    ),
    st.lists(LINE, max_size=40),
    st.sampled_from(["\n", "\n", "\n", "\r\n", "\r"]),
    st.sampled_from([b"", b"", b"\n", b"\xff", b"2031,\xc3", b"a,b,c,d,e\n", b"\r"]),
)


def _bytes(parts: tuple[str, str, list[str], str, bytes]) -> bytes:
    mark, header, lines, end, tail = parts
    return (mark + end.join([header, *lines, ""])).encode() + tail


def _stretches(batches: Iterable[Batch]) -> list[tuple[tuple[str, ...], list[tuple[object, ...]]]]:
    """The rows by the headers they stand under: what follows must not hang on how they are cut into batches."""
    found: list[tuple[tuple[str, ...], list[tuple[object, ...]]]] = []
    for batch in batches:
        rows = with_texts(batch).rows()
        if found and found[-1][0] == batch.headers:
            found[-1][1].extend(rows)
        else:
            found.append((batch.headers, rows))
    return found


def _read(read, data: bytes, dialect: Dialect, **how: object) -> object:
    """All that a reader finds: rows under their headers, what is set aside, findings; or what it says of the file."""
    try:
        batches = list(read(io.BytesIO(data), "a.csv", dialect, **how))
    except FeedError as error:
        return str(error)
    aside = all_aside([batch.aside for batch in batches]).rows()
    return _stretches(batches), aside, [row for batch in batches for row in batch.findings.iter_rows()]


@pytest.mark.lengthy
@settings(max_examples=600)
@given(
    FILE, st.sampled_from([40, 90, 1000, 1 << 20]), st.sampled_from([WANTED, CANONICAL, Dialect(), Dialect(",", "")])
)
def test_both_readers_find_the_same(parts, block_bytes: int, dialect: Dialect) -> None:
    data = _bytes(parts)
    assert _read(read_lean, data, dialect, block_bytes=block_bytes) == _read(read_csv, data, dialect)


@pytest.mark.lengthy
@settings(max_examples=200)
@given(st.lists(LINE, max_size=20), st.sampled_from([40, 1 << 20]), st.integers(1, 9))
def test_both_readers_go_on_alike_in_a_file_that_grew(lines: list[str], block_bytes: int, first: int) -> None:
    data, start = "".join(f"{line}\n" for line in lines).encode(), Start(first, tuple(HEADER.split(",")))
    lean = _read(read_lean, data, WANTED, start=start, block_bytes=block_bytes)
    assert lean == _read(read_csv, data, WANTED, start=start)


def test_plain_rows_and_misfits_never_reach_the_careful_reader(monkeypatch) -> None:
    """Worked by hand: line 3 has one cell too few, line 5 one too many; lines 2, 4 and 6 are rows."""
    monkeypatch.setattr(lean_reader, "read_csv", None)
    lines = [HEADER, ROW, "2031-03-01T20:0", ROW, f"{ROW},x", "a, b,c,d,e", ""]
    (batch,) = read_lean(io.BytesIO("\n".join(lines).encode()), "a.csv", WANTED)
    assert batch.rows["line"].to_list() == [2, 4, 6]
    assert batch.rows["text"].to_list() == [None, None, "a, b,c,d,e"]
    assert batch.rows["cell_1"].to_list() == ["VT1", "VT1", "b"]
    assert with_texts(batch)["text"].to_list() == [ROW, ROW, "a, b,c,d,e"]
    assert batch.aside.rows() == [
        (3, "2031-03-01T20:0", "The row has 1 cells, the header 5. Expected as many."),
        (5, f"{ROW},x", "The row has 6 cells, the header 5. Expected as many."),
    ]


@pytest.mark.parametrize("odd", ['"a,b",c,d,e,f', "", HEADER, "a\x00,b,c,d,e", "a,b,c,d,e\n\xff"])
def test_from_the_first_odd_block_on_the_careful_reader_reads(monkeypatch, odd: str) -> None:
    """60 rows of 31 bytes before the odd line, blocks of 1000 bytes: the first block is plain, and only that."""
    seen: list[Start | None] = []

    def careful(stream, file, dialect, *, start=None):
        seen.append(start)
        return read_csv(stream, file, dialect, start=start)

    monkeypatch.setattr(lean_reader, "read_csv", careful)
    data = "\n".join([HEADER, *[ROW] * 60, odd, *[ROW] * 60, ""]).encode("utf-8" if "\xff" not in odd else "latin-1")
    got = _read(read_lean, data, WANTED, block_bytes=1000)
    assert got == _read(read_csv, data, WANTED)
    # 1000 bytes hold the header of 30 and 31 whole rows of 31 bytes: the second block begins with line 33.
    assert seen == [Start(33, tuple(HEADER.split(",")))]


def test_rows_have_the_types_that_typing_expects() -> None:
    (batch,) = read_lean(io.BytesIO(f"{HEADER}\n{ROW}\n".encode()), "a.csv", WANTED)
    assert batch.rows.schema == pl.Schema(
        {"line": pl.Int64, "text": pl.String, **{f"cell_{k}": pl.String for k in range(5)}}
    )
