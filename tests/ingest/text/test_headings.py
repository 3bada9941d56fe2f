"""Headers that come again or change further down. Common practice, no source."""

from __future__ import annotations

import io

from pipeline.ingest.dialect import Dialect
from pipeline.ingest.text.headings import find_headings
from pipeline.ingest.text.lines import read_blocks
from pipeline.ingest.text.quotes import read_quoted


def _again(text: str | bytes, names: tuple[str, ...], dialect: Dialect) -> list[tuple[int, tuple[str, ...]]]:
    data = text.encode() if isinstance(text, str) else text
    (block,) = read_blocks(io.BytesIO(data), quote=dialect.quote)
    found = find_headings(block, read_quoted(block, dialect), names, dialect)
    return [(heading.at, heading.cells) for heading in found]


EVENTS = Dialect(",", encoding="utf-8", wanted=("at", "machine", "event"))
NAMES = ("at", "machine", "event", "value")


def test_headers_further_down() -> None:
    text = (
        "1,VT1,roll,\n"
        "at,machine,event,value\n"  # the same
        '"at", machine ,event,"value"\n'  # the same, written otherwise
        "\ufeffat,machine,event,value\n"  # at the seam of two files put together
        "event,desk,machine,at\n"  # another
        "AT,MACHINE,EVENT\n"
        "at,machine,note,x\n"  # lacks one of the columns wanted
        "2,VT1 at machine event,x,\n"  # the words, but not as cells
    )
    same = NAMES
    assert _again(text, NAMES, EVENTS) == [
        (1, same),
        (2, same),
        (3, same),
        (4, ("event", "desk", "machine", "at")),
        (5, ("AT", "MACHINE", "EVENT")),
    ]


def test_a_word_in_a_cell_of_a_row_makes_no_header() -> None:
    dialect = Dialect(",", wanted=("machine",))
    assert _again("VT1,machine,x\nmachine,kind,y\n", ("machine", "kind", "pair"), dialect) == [
        (1, ("machine", "kind", "y"))  # two names shared with the header
    ]


def test_without_wanted_columns_only_the_same_line_is_a_header_again() -> None:
    dialect = Dialect(",")
    assert _again("a,b\nb,a\nA,B\na,b,c\n", ("a", "b"), dialect) == [(0, ("a", "b"))]


def test_a_header_with_a_nameless_column_comes_again() -> None:
    names = ("at", "column 2", "machine")
    for wanted in ((), ("at", "column 2")):
        assert _again("1,2,3\nat,,machine\n", names, Dialect(",", wanted=wanted)) == [(1, names)]


def test_a_line_inside_a_quoted_cell_is_no_header() -> None:
    text = '1,"noted:\nat,machine,event,value\n",roll,\n'
    assert _again(text, NAMES, EVENTS) == []


def test_a_header_of_two_lines_comes_again() -> None:
    dialect = Dialect(",", wanted=("at\n(UTC)", "machine"))
    text = '1,VT1\n"at\n(UTC)",machine\n2,VT1\n"AT\n(utc)",Machine\n'
    assert _again(text, ("at\n(UTC)", "machine"), dialect) == [
        (1, ("at\n(UTC)", "machine")),
        (4, ("AT\n(utc)", "Machine")),
    ]


def test_names_with_signs_of_a_pattern() -> None:
    dialect = Dialect(";", wanted=("Wert [s]", "Datum (lokal)"))
    text = "1;2\nDatum (lokal);Wert [s]\n"
    assert _again(text, ("Datum (lokal)", "Wert [s]"), dialect) == [(1, ("Datum (lokal)", "Wert [s]"))]


def test_a_file_without_a_header_gets_none_later() -> None:
    dialect = Dialect(",", header_row=0, wanted=("column 1", "column 2"))
    assert _again("column 1,column 2\n", ("column 1", "column 2"), dialect) == []
