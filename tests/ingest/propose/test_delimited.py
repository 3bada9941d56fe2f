"""Delimiters, quotes and header lines of texts whose make is known."""

from __future__ import annotations

import csv
import io

import pytest

from pipeline.ingest.propose.delimited import Record, find_header_line, recognise_spelling, unused_delimiter

ROWS = [["at", "machine", "what, said"], *[[f"2031-03-09 20:0{k}", f"VT{k}", f"a; b | {k}"] for k in range(9)]]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_what_the_library_writes_is_recognised(delimiter: str) -> None:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(ROWS)
    spelling = recognise_spelling(text.getvalue().splitlines())
    assert (spelling.delimiter, spelling.quote, spelling.width, spelling.header_line) == (delimiter, '"', 3, 1)
    assert [list(record.cells) for record in spelling.records] == ROWS
    assert spelling.short_names == ("at", "machine", "what, said")


def test_titles_and_padded_lines_stand_above_the_header() -> None:
    lines = [
        "Report of the room;;",
        "",
        "printed by hand;;",
        "at;machine;event",
        "2031-03-09 20:00;VT1;roll",
        "2031-03-09 20:01;VT1;stop",
    ]
    assert recognise_spelling(lines).header_line == 4


def test_rows_without_a_header() -> None:
    assert recognise_spelling(["2031-03-09 20:00;VT1;roll", "2031-03-09 20:01;VT1;stop"]).header_line == 0


def test_single_quotes() -> None:
    spelling = recognise_spelling(["'at';'said'", "'1';'a;b'", "'2';'c;d'", "'3';'e'"])
    assert (spelling.quote, spelling.width) == ("'", 2)
    assert spelling.records[1].cells == ("1", "a;b")


def test_lines_that_nothing_parts() -> None:
    assert recognise_spelling(["VT1 rolled", "VT1, or was it VT2, stopped", "VT1 rolled"]).delimiter == ""
    assert unused_delimiter("a\tb|c") == ";"
    assert unused_delimiter("a\tb|c;d,e") == ""


def test_a_header_has_no_values_and_no_name_twice() -> None:
    assert find_header_line([Record(1, ("a", "b")), Record(2, ("1", "2"))], 2, 2) == 1
    assert find_header_line([Record(1, ("a", "a")), Record(2, ("1", "2"))], 2, 2) == 0
    assert find_header_line([Record(3, ("title", "")), Record(4, ("a", "b"))], 2, 2) == 4
    assert find_header_line([], 2, 2) == 0
