"""Quoted records: RFC 4180 section 2, and what is done where a file breaks it."""

from __future__ import annotations

import io

import pytest

from pipeline.ingest.lines import read_blocks
from pipeline.ingest.quotes import LINES_IN_A_RECORD, join_lines, read_quoted


@pytest.mark.parametrize(
    ("lines", "cells"),
    [
        (['"aaa","b', 'bb","ccc"'], ["aaa", "b\nbb", "ccc"]),  # RFC 4180 section 2, rule 6
        (['"aaa","b""bb","ccc"'], ["aaa", 'b"bb', "ccc"]),  # RFC 4180 section 2, rule 7
        (['3/4" tape,x'], ['3/4" tape', "x"]),  # common practice, no source
        (['a, "b, c"'], ["a", "b, c"]),
    ],
)
def test_records(lines: list[str], cells: list[str]) -> None:
    assert join_lines([*lines, "next"]) == (cells, len(lines))


@pytest.mark.parametrize("line", ['"a', '"a"b,c', 'a,"b""'])
def test_quotes_that_do_not_balance(line: str) -> None:
    assert join_lines([line]) is None


def _read(text: str, is_last: bool = True):
    (block,) = read_blocks(io.BytesIO(text.encode()))
    return read_quoted(block if is_last else type(block)(**{**vars(block), "is_last": False}))


def test_an_open_quote_costs_its_own_line_only() -> None:
    found = _read('a,b\n"open,1\nc,d\n"x, y",2\n')
    # The quote of line 2 would close at line 4, where a letter follows it: no record, so line 4 is read on its own.
    assert [at for at, _ in found.unbalanced] == [1]
    assert (found.at, found.cells, found.taken) == ([3], [["x, y", "2"]], {1, 3})


def test_a_cell_may_span_a_hundred_lines_and_no_more() -> None:
    fits = '"' + "x\n" * (LINES_IN_A_RECORD - 1) + '",1\n'
    assert _read(fits).taken == set(range(LINES_IN_A_RECORD))
    too_long = '"' + "x\n" * LINES_IN_A_RECORD + '",1\n'
    assert [at for at, _ in _read(too_long).unbalanced] == [0, LINES_IN_A_RECORD]


def test_a_record_that_goes_on_past_the_block_is_left_for_the_next() -> None:
    assert _read('a\n"b\nc\n', is_last=False).cut_at == 1
    assert _read('a\n"b\nc\n', is_last=True).cut_at is None
