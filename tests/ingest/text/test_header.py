"""Where the header of an export is, and which delimiter it has. Common practice, no source."""

from __future__ import annotations

import io

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.text.header import Header, find_header, header_for
from pipeline.ingest.text.lines import Block, read_blocks

GERMAN = Dialect(wanted=("Datum", "Zeit", "Maschine"))
TITLED = "Protokoll Raum 3\nErstellt: 2031-03-01, Schicht A\n\nDatum;Zeit;Maschine;Wert\n01.03.2031;20:00;VT1;0,5\n"


def _block(text: str | bytes, *, is_last: bool = True, quote: str = '"') -> Block:
    data = text.encode() if isinstance(text, str) else text
    (block,) = read_blocks(io.BytesIO(data), quote=quote)
    return Block(**{**vars(block), "is_last": is_last})


def _find(text: str | bytes, dialect: Dialect) -> Header:
    header = find_header(_block(text, quote=dialect.quote), "a.csv", dialect)
    assert header is not None
    return header


def test_a_header_below_titles_is_found_by_the_columns_wanted() -> None:
    header = _find(TITLED, GERMAN)
    assert header.names == ("Datum", "Zeit", "Maschine", "Wert")
    assert (header.dialect.delimiter, header.line, header.above, header.rows_at) == (";", 4, 2, 4)


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_each_common_delimiter_is_recognised(delimiter: str) -> None:
    text = f'Report "3/4 inch", all; rooms | {delimiter}\n' + delimiter.join(["x", "Zeit", "Maschine", "Datum"]) + "\n"
    header = _find(text, GERMAN)
    assert (header.names, header.dialect.delimiter, header.line) == (("x", "Zeit", "Maschine", "Datum"), delimiter, 2)


def test_a_delimiter_that_is_named_is_not_guessed() -> None:
    header = _find("a;b,c\n", Dialect(",", wanted=("a",)))
    assert header.names == ("a;b", "c")


def test_letter_case_and_spaces_do_not_hide_a_header_and_the_files_spelling_stays() -> None:
    assert _find(" datum ;ZEIT;Maschine\n", GERMAN).names == ("datum", "ZEIT", "Maschine")
    # A line that spells the columns exactly goes before an earlier one that does not.
    assert _find("datum;zeit;maschine\nDatum;Zeit;Maschine\n", GERMAN).line == 2


def test_a_header_of_several_lines_with_quotes() -> None:
    dialect = Dialect(wanted=("Zeit\n(lokal)", "Maschine"))
    header = _find('"Raum; 3"\n"Zeit\n(lokal)";Maschine\n', dialect)
    assert (header.names, header.line, header.rows_at, header.above) == (("Zeit\n(lokal)", "Maschine"), 2, 3, 1)


def test_a_nameless_column_may_be_wanted_by_its_place() -> None:
    assert _find("x\nat,,VT\n", Dialect(wanted=("at", "column 2"))).names == ("at", "column 2", "VT")


@pytest.mark.parametrize(("above", "line"), [(199, 200), (200, 1)])
def test_the_header_is_looked_for_in_two_hundred_lines(above: int, line: int) -> None:
    header = _find("title\n" * above + "Datum;Zeit;Maschine\n", GERMAN)
    assert header.line == line


def test_if_no_line_holds_all_columns_the_first_that_is_not_empty_is_the_header() -> None:
    header = _find("\n\nDatum;Uhrzeit;Maschine\n1;2;3\n", GERMAN)
    assert (header.names, header.line, header.above) == (("Datum", "Uhrzeit", "Maschine"), 3, 0)


def test_without_wanted_columns_the_delimiter_is_the_one_that_rows_agree_with() -> None:
    # With a comma the header has two cells and one row only one; with a semicolon all have two.
    assert _find("Zeit;Wert, s\n20:00;0,5\n20:01;1\n", Dialect()).names == ("Zeit", "Wert, s")
    # Where all fit, the comma is more likely part of a number.
    assert _find("Zeit;Wert, s\n20:00;0,5\n20:01;0,25\n", Dialect()).names == ("Zeit", "Wert, s")
    assert _find("Zeit,Bemerkung\n20:00,a;b\n", Dialect()).names == ("Zeit", "Bemerkung")
    assert _find("Zeit\n20:00\n", Dialect()).names == ("Zeit",)


def test_a_quoted_cell_tells_the_delimiter() -> None:
    assert _find('"a,b";"c"\n', Dialect()).names == ("a,b", "c")


def test_the_header_row_may_be_named() -> None:
    header = _find("a;b\nc;d\ne;f\n", Dialect(header_row=2))
    assert (header.names, header.line, header.above, header.rows_at) == (("c", "d"), 2, 1, 2)
    # Also where another line looks more like it.
    assert _find("Datum;Zeit;Maschine\nc;d\ne;f\n", Dialect(wanted=GERMAN.wanted, header_row=2)).names == ("c", "d")


@pytest.mark.parametrize(
    ("row", "words"),
    [(4, r"^a.csv has no line 4 for its header, only 3\."), (2, "^a.csv, line 2 is empty. Expected the header there")],
)
def test_a_header_row_that_is_not_there(row: int, words: str) -> None:
    with pytest.raises(FeedError, match=words):
        _find("a;b\n\nc;d\n", Dialect(header_row=row))


def test_a_file_without_a_header_has_columns_by_place_and_all_its_lines_are_rows() -> None:
    header = _find("\n01.03.2031 20:00;VT1;0,5\n01.03.2031 20:01;VT1;1,5\n", Dialect(header_row=0))
    assert header.names == ("column 1", "column 2", "column 3")
    assert (header.dialect.delimiter, header.line, header.above, header.rows_at) == (";", 0, 0, 0)
    # The first record that can be read tells the width.
    assert len(_find(b'"a\n\xff,1\nb,c,d\n', Dialect(",", header_row=0)).names) == 3
    assert _find('"a\n', Dialect(header_row=0)).names == ("column 1",)


@pytest.mark.parametrize(
    ("data", "dialect", "words"),
    [
        (b'"a\n', GERMAN, "line 1: the quotes of the header line do not balance"),
        (
            b"x\nDatum;Zeit;Maschine;Ger\xe4t\n",
            Dialect(encoding="utf-8", wanted=GERMAN.wanted),
            "line 2: the header line is not UTF-8",
        ),
        (
            b"a;\x81\n",
            Dialect(encoding="mixed"),
            r"line 1: the header line cannot be read\. The row holds bytes that are no",
        ),
        (b"Datum;Zeit;Maschine;Zeit\n", GERMAN, 'two columns "Zeit"'),
        (b"Datum;Zeit;Maschine;a\x00\n", GERMAN, "NUL"),
    ],
)
def test_a_header_that_cannot_be_read(data: bytes, dialect: Dialect, words: str) -> None:
    with pytest.raises(FeedError, match=words):
        _find(data, dialect)


def test_a_header_line_that_is_too_long() -> None:
    with pytest.raises(FeedError, match=r"line 1: the header line is too long\. The line is longer than 16 MiB"):
        _find(b"x" * (1 << 24) + b"x\n", CANONICAL)


@pytest.mark.parametrize(
    ("dialect", "lines"),
    [
        (CANONICAL, 100),  # the first line, and what may belong to its record
        (GERMAN, 300),
        (Dialect(header_row=0), 100),
        (Dialect(header_row=5), 104),
    ],
)
def test_a_block_that_is_too_short_to_tell_is_not_decided(dialect: Dialect, lines: int) -> None:
    text = "Datum;Zeit;Maschine\n" * lines
    assert find_header(_block(text, is_last=False), "a.csv", dialect) is not None
    fewer = _block(text.removesuffix("Datum;Zeit;Maschine\n"), is_last=False)
    assert find_header(fewer, "a.csv", dialect) is None
    assert find_header(_block("\n\n"), "a.csv", dialect) is None


def test_a_file_that_goes_on_has_the_delimiter_that_gives_its_columns() -> None:
    names = ("Zeit", "Maschine", "Wert")
    header = header_for(_block("broken, line, of, text\n20:00;VT1;0,5\n\n20:01;VT1;0,6\n"), names, GERMAN)
    assert header is not None
    assert (header.names, header.dialect.delimiter, header.line) == (names, ";", 0)
    # A record of two lines counts too, here the only one.
    spread = header_for(_block('20:00,VT1,"a\nb"\n'), names, GERMAN)
    assert spread is not None
    assert spread.dialect.delimiter == ","
    assert header_for(_block("a\n", is_last=False), names, GERMAN) is None
    given = header_for(_block("a\n", is_last=False), names, CANONICAL)
    assert given is not None
    assert given.dialect.delimiter == ","


def test_a_header_that_lacks_a_column_is_still_the_header() -> None:
    """Two of three wanted columns are more than half; a title is no header, nor is a row with one of the words."""
    lines = b"A title\n\nat;clock;mashine\n2031;20:00;at\n"
    header = find_header(_block(lines), "a.csv", Dialect(delimiter=";", wanted=("at", "clock", "machine")))
    assert header is not None
    assert (header.names, header.line) == (("at", "clock", "mashine"), 3)
    header = find_header(_block(lines), "a.csv", Dialect(delimiter=";", wanted=("a", "b", "clock")))
    assert header is not None
    assert header.line == 1
