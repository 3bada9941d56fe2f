"""Quoted records: RFC 4180 section 2, and what is done where a file breaks it."""

from __future__ import annotations

import io

import pytest

from pipeline.ingest.dialect import Dialect
from pipeline.ingest.text.lines import read_blocks
from pipeline.ingest.text.quotes import LINES_IN_A_RECORD, join_lines, read_quoted


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


@pytest.mark.parametrize(
    ("delimiter", "quote", "line", "cells"),
    [
        (";", '"', '"a;b";"c""d";3,5', ["a;b", 'c"d', "3,5"]),
        ("\t", '"', '"a\tb"\tc', ["a\tb", "c"]),
        (",", "'", "'a,b','it''s',\"c\"", ["a,b", "it's", '"c"']),
        ("|", "", '"a|b"', ['"a', 'b"']),
        (" ", '"', 'a  "b c"', ["a", "", "b c"]),  # two spaces enclose an empty cell
        ("§", "«", "«a§b«§c", ["a§b", "c"]),
    ],
)
def test_other_delimiters_and_quotes(delimiter: str, quote: str, line: str, cells: list[str]) -> None:
    assert join_lines([line], Dialect(delimiter, quote)) == (cells, 1)


def test_without_a_quote_nothing_is_intricate() -> None:
    (block,) = read_blocks(io.BytesIO(b'"a\n"b"c\n'), quote="")
    assert read_quoted(block, Dialect(",", "")).taken == set()


@pytest.mark.parametrize("letter", list("^-]\\[.*|$ <>~&"))
def test_characters_that_mean_something_in_a_pattern_do_not_as_delimiter_or_quote(letter: str) -> None:
    for dialect in (Dialect(letter, '"'), Dialect(",", letter)):
        cell, other = f"{dialect.quote}a{dialect.quote}", f"{dialect.quote}b{dialect.delimiter}{dialect.quote}"
        text = f"{cell}{dialect.delimiter}{cell}\n{other}{dialect.delimiter}{cell}\n"
        (block,) = read_blocks(io.BytesIO(text.encode()), quote=dialect.quote)
        found = read_quoted(block, dialect)
        # The first line only wraps whole cells, so it is cut with all others.
        assert (found.at, found.cells) == ([1], [[f"b{dialect.delimiter}", "a"]])


def test_a_quote_is_not_looked_for_in_a_line_that_is_too_long() -> None:
    (block,) = read_blocks(io.BytesIO(b'"a\n"xx\nb",1\n'))
    found = read_quoted(type(block)(**{**vars(block), "damaged": {1}, "left_out": {1: 99}}))
    assert [at for at, _ in found.unbalanced] == [0]
    assert (found.taken, found.at) == ({0, 2}, [2])
    assert found.cells == [['b"', "1"]]
