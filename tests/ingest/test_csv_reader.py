"""CSV rows and their line numbers, against Python's csv module as the writer."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.batch import Batch
from pipeline.ingest.csv_reader import read_csv

CELL = st.text(alphabet=st.sampled_from("ab\",\n 'é;\t|"), max_size=6)
TABLE = st.lists(st.lists(CELL, min_size=3, max_size=3).filter(any), max_size=8)
WIDE = 32 * 1024 * 1024


def _read(data: bytes, block_bytes: int = WIDE) -> list[Batch]:
    return list(read_csv(io.BytesIO(data), "a.csv", block_bytes=block_bytes))


def _rows(batches: list[Batch]) -> list[tuple[object, ...]]:
    return [row for batch in batches for row in batch.rows.iter_rows()]


def _aside(batches: list[Batch]) -> list[tuple[object, ...]]:
    return [row for batch in batches for row in batch.aside.iter_rows()]


@settings(deadline=None)
@given(TABLE, st.sampled_from(["\n", "\r\n"]), st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]), st.integers(1, 60))
def test_what_a_writer_writes_is_read_with_its_line(table, line_end: str, quoting, block_bytes: int) -> None:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=line_end, quoting=quoting)
    writer.writerow(["x", "y", "z"])
    expected = []
    for row in table:
        line = out.getvalue().count("\n") + 1
        writer.writerow(row)
        expected.append((line, *(cell.strip() or None for cell in row)))
    batches = _read(out.getvalue().encode(), block_bytes)
    assert [(line, *cells) for line, _, *cells in _rows(batches)] == expected
    assert _aside(batches) == []


def test_lines_texts_and_reasons() -> None:
    data = b'\nx,y\n1,2\n\n3\n4,5,6\n"7,\n8",9\n \n,\n\xff,1\n1,\x00\n"a"b,c\n'
    batches = _read(data)
    assert _rows(batches) == [(3, "1,2", "1", "2"), (7, '"7,\n8",9', "7,\n8", "9"), (10, ",", None, None)]
    assert [(line, text, reason.split(".")[0][:28]) for line, text, reason in _aside(batches)] == [
        (5, "3", "The row has 1 cells, the hea"),
        (6, "4,5,6", "The row has 3 cells, the hea"),
        (9, " ", "The row has 1 cells, the hea"),
        (11, "\\xff,1", "The row holds bytes that are"),
        (12, "1,\\x00", "The row holds a NUL characte"),
        (13, '"a"b,c', "The quotes do not balance"),
    ]


def test_damage_inside_a_quoted_record_sets_the_record_aside_once() -> None:
    batches = _read(b'x,y\n"a\n\xff\n",1\n2,3\n')
    assert [(line, text) for line, text, _ in _aside(batches)] == [(2, '"a\n\\xff\n",1')]
    assert [row[0] for row in _rows(batches)] == [5]


@pytest.mark.parametrize("data", [b"", b"\n\r\n\r", b"\xef\xbb\xbf"])
def test_no_header_no_batch(data: bytes) -> None:
    assert _read(data) == []


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"a,b,a\n", 'two columns "a"'),
        (b"a, a\n", 'two columns "a"'),
        (b'"a\n', "line 1: the quotes of the header"),
        (b"\n\xe9,b\n", "line 2: the header line is not UTF-8"),
        (b"a\x00,b\n", "NUL"),
        (b"," * 10_001, "10002 columns"),
    ],
)
def test_a_header_that_cannot_be_read(data: bytes, words: str) -> None:
    with pytest.raises(FeedError, match=words):
        _read(data)


def test_header_is_stripped_unquoted_and_nameless_columns_are_called_by_their_place() -> None:
    (batch,) = _read(b'\xef\xbb\xbf at ,"mach""ine",,\n')
    assert batch.headers == ("at", 'mach"ine', "column 3", "column 4")


def test_two_thousand_columns_and_a_cell_of_five_megabytes() -> None:
    wide = ",".join(f"c{k}" for k in range(2000)) + "\n" + ",".join("v" for _ in range(2000)) + "\n"
    assert len(_rows(_read(wide.encode()))[0]) == 2002
    long = "x" * 5_000_000
    for cell in (long, f'"{long},"'):
        ((_, _, first, _),) = _rows(_read(f"a,b\n{cell},1\n".encode(), 65536))
        assert len(first) in {5_000_000, 5_000_001}
