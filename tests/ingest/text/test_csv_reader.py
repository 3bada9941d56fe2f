"""CSV rows and their line numbers, against Python's csv module as the writer."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.batch import Batch
from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.text import csv_reader
from pipeline.ingest.text import lines as lines_module
from pipeline.ingest.text.archives import open_packed
from pipeline.ingest.text.csv_reader import HEADER_AGAIN, NEW_HEADER, Start, read_csv, read_header
from pipeline.ingest.text.encodings import decoded

CELL = st.text(alphabet=st.sampled_from("ab\",\n 'é;\t|"), max_size=6)
TABLE = st.lists(st.lists(CELL, min_size=3, max_size=3).filter(any), max_size=8)
WIDE = 32 * 1024 * 1024


def _read(data: bytes, block_bytes: int = WIDE) -> list[Batch]:
    return list(read_csv(io.BytesIO(data), "a.csv", block_bytes=block_bytes))


def _read_as(data: bytes, dialect: Dialect, block_bytes: int = WIDE, start: Start | None = None) -> list[Batch]:
    stream = decoded(io.BytesIO(data), dialect.encoding)
    return list(read_csv(stream, "a.csv", dialect, block_bytes=block_bytes, start=start))


def _told(batches: list[Batch]) -> list[tuple[Any, ...]]:
    """What is said of each line, whatever the batches: number, text, and its cells under their headers or why not."""
    rows = [(line, text, batch.headers, cells) for batch in batches for line, text, *cells in batch.rows.iter_rows()]
    findings = [(*finding, "finding") for batch in batches for finding in batch.findings.iter_rows()]
    return sorted([*rows, *_aside(batches), *findings], key=lambda each: (each[0], len(each)))


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


# How common programs write, as Python's csv module has it: its own dialects, and others that rooms use.
WRITERS: dict[str, tuple[dict[str, Any], Dialect]] = {
    "excel": ({"dialect": "excel"}, Dialect(",")),
    "excel-tab": ({"dialect": "excel-tab"}, Dialect("\t")),
    "unix": ({"dialect": "unix"}, Dialect(",")),
    "semicolon": ({"delimiter": ";", "quoting": csv.QUOTE_NONNUMERIC}, Dialect(";")),
    "apostrophe": ({"delimiter": "|", "quotechar": "'", "lineterminator": "\n"}, Dialect("|", "'")),
    "not in ASCII": ({"delimiter": "§", "quotechar": "«", "quoting": csv.QUOTE_ALL}, Dialect("§", "«")),
    "space": ({"delimiter": " ", "quoting": csv.QUOTE_ALL}, Dialect(" ")),
}
SPELLED = st.text(alphabet=st.sampled_from("ab\"',\n 'é;\t|§«"), max_size=6)


@settings(deadline=None)
@given(
    st.sampled_from(sorted(WRITERS)),
    st.lists(st.lists(SPELLED, min_size=3, max_size=3).filter(any), max_size=8),
    st.integers(1, 60),
)
def test_every_dialect_is_read_as_it_is_written(writer: str, table: list[list[str]], block_bytes: int) -> None:
    how, dialect = WRITERS[writer]
    out = io.StringIO()
    csv.writer(out, **how).writerows([["x", "y", "z"], *table])
    (first, *others) = _read_as(out.getvalue().encode(), dialect, block_bytes)
    assert first.headers == ("x", "y", "z")
    wanted = [[cell.strip() or None for cell in row] for row in table]
    assert [list(cells) for _, _, *cells in _rows([first, *others])] == wanted
    assert _aside([first, *others]) == []


SHIFT = [
    ["Datum", "Zeit", "Maschine", "Meldung"],
    ["01.03.2031", "20:00:00,25", "VT1", 'Band "3/4"; Störung'],
    ["01.03.2031", "20:00:01", "VT2", "zwei\nZeilen"],
    ["02.03.2031", "00:10", "VT1", ""],
]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "windows-1252"])
@pytest.mark.parametrize("quoting", [csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
def test_a_file_is_recognised_however_it_is_written(
    tmp_path: Path, delimiter: str, encoding: str, quoting: int
) -> None:
    path = tmp_path / "a.csv"
    with path.open("w", encoding=encoding, newline="") as out:
        out.write("Schichtbuch Raum 3, März\r\n\r\n")
        csv.writer(out, delimiter=delimiter, quoting=quoting).writerows(SHIFT)
    dialect = Dialect(wanted=("Datum", "Zeit", "Maschine"))
    with open_packed(path, "a.csv", "") as packed:
        (batch,) = read_csv(decoded(packed, ""), "a.csv", dialect)
    assert batch.headers == tuple(SHIFT[0])
    assert [list(cells) for _, _, *cells in batch.rows.iter_rows()] == [
        [cell or None for cell in row] for row in SHIFT[1:]
    ]
    assert batch.rows["line"].to_list() == [4, 5, 7]
    assert batch.findings.rows() == [(3, "above_header", "Lines above the header, which are no rows: 1.")]


@pytest.mark.parametrize("block_bytes", [1, 9, WIDE])
def test_lines_above_the_header_are_told_of_once(block_bytes: int) -> None:
    data = b"t\nu\nat,machine\n1,VT1\nat,machine,x\n2,VT1,y\n"
    assert _told(_read_as(data, Dialect(wanted=("at", "machine")), block_bytes)) == [
        (3, "above_header", "Lines above the header, which are no rows: 2.", "finding"),
        (4, "1,VT1", ("at", "machine"), ["1", "VT1"]),
        (5, "at,machine,x", NEW_HEADER),
        (6, "2,VT1,y", ("at", "machine", "x"), ["2", "VT1", "y"]),
    ]


def test_a_line_that_is_too_long_is_no_header(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lines_module, "LONGEST_LINE", 40)
    monkeypatch.setattr(lines_module, "FIRST_PART", 20)
    batches = _read_as(b"at,machine,event\n1,VT1,roll\nat,machine,event,zz" + b"z" * 30 + b"\n2,VT1,stop\n", EVENTS)
    assert [row[1] for row in _rows(batches)] == ["1,VT1,roll", "2,VT1,stop"]
    # 19 bytes and 30, of which 20 are kept; the bound is said in MiB.
    assert [reason[:57] for _, _, reason in _aside(batches)] == [
        "The line is longer than 0 MiB; 29 bytes of it are left ou"
    ]


def test_a_file_without_quotes_takes_them_as_letters() -> None:
    (batch,) = _read_as(b'a;b\n"x;y"\n', Dialect(";", ""))
    assert _rows([batch]) == [(2, '"x;y"', '"x', 'y"')]


def test_a_file_without_a_header() -> None:
    (batch,) = _read_as(b"1;VT1\n2;VT2;x\n3\n4;VT1\n", Dialect(header_row=0))
    assert batch.headers == ("column 1", "column 2")
    assert [row[0] for row in _rows([batch])] == [1, 4]
    assert [(line, reason) for line, _, reason in _aside([batch])] == [
        (2, "The row has 3 cells, the header 2. Expected as many."),
        (3, "The row has 1 cells, the header 2. Expected as many."),
    ]


def test_bad_quotes_and_bad_bytes_are_told_in_the_words_of_the_dialect() -> None:
    batches = _read_as(b'a;b\n"x"y;1\n\x81;1\n', Dialect(";", encoding="mixed"))
    assert [(text, reason[:70]) for _, text, reason in _aside(batches)] == [
        ('"x"y;1', "The quotes do not balance. Expected a quoted cell to end in a quote be"),
        ("\\x81;1", "The row holds bytes that are no text in UTF-8 or Windows-1252 (shown a"),
    ]
    assert 'before the next ";", at most' in _aside(batches)[0][2]


EVENTS = Dialect(",", encoding="utf-8", wanted=("at", "machine", "event"))
GROWN = (
    b"at,machine,event\n1,VT1,roll\nat,machine,event\n2,VT1,stop\n"
    b'"at",desk,machine,event\n3,A,VT1,roll\n"at","desk",machine,event\n4,B,VT2,"a\nb"\nat,machine,event\n5,VT1,stop\n'
)


@pytest.mark.parametrize("block_bytes", [1, 10, 33, WIDE])
def test_headers_that_come_again_or_change(block_bytes: int) -> None:
    narrow, wide = ("at", "machine", "event"), ("at", "desk", "machine", "event")
    assert _told(_read_as(GROWN, EVENTS, block_bytes)) == [
        (2, "1,VT1,roll", narrow, ["1", "VT1", "roll"]),
        (3, "at,machine,event", HEADER_AGAIN),
        (4, "2,VT1,stop", narrow, ["2", "VT1", "stop"]),
        (5, '"at",desk,machine,event', NEW_HEADER),
        (6, "3,A,VT1,roll", wide, ["3", "A", "VT1", "roll"]),
        (7, '"at","desk",machine,event', HEADER_AGAIN),
        (8, '4,B,VT2,"a\nb"', wide, ["4", "B", "VT2", "a\nb"]),
        (10, "at,machine,event", NEW_HEADER),
        (11, "5,VT1,stop", narrow, ["5", "VT1", "stop"]),
    ]


def test_each_header_has_batches_of_its_own() -> None:
    assert [(len(batch.headers), batch.read_count) for batch in _read_as(GROWN, EVENTS)] == [(3, 3), (4, 4), (3, 2)]


def test_a_header_of_only_one_column_comes_again() -> None:
    batches = _read_as(b"machine\nVT1\nmachine\n", Dialect(",", wanted=("machine",)))
    assert [row[1] for row in _rows(batches)] == ["VT1"]
    assert [reason for _, _, reason in _aside(batches)] == [HEADER_AGAIN]


@pytest.mark.parametrize(
    ("again", "words"),
    [
        (b"at,machine,event,at\n", 'two columns "at"'),
        (b"at,machine,event,\xff\n", "line 3: the header line is not UTF-8"),
    ],
)
def test_a_new_header_that_cannot_be_read_ends_the_file(again: bytes, words: str) -> None:
    with pytest.raises(FeedError, match=words):
        _read_as(b"at,machine,event\n1,VT1,roll\n" + again, EVENTS)


def test_a_thousand_headers_and_no_more() -> None:
    pair = b"at,machine,event\nat,machine,event,x\n"
    assert sum(batch.read_count for batch in _read_as(pair * 500, EVENTS)) == 999
    with pytest.raises(FeedError, match="changes its header more than 1,000 times"):
        _read_as(pair * 501, EVENTS)


@pytest.mark.parametrize("lines", range(2, 12))
@pytest.mark.parametrize("delimiter", ["", ","])
def test_a_file_that_grew_is_read_on_as_if_it_were_read_whole(lines: int, delimiter: str) -> None:
    dialect = Dialect(delimiter, encoding="utf-8", wanted=EVENTS.wanted)
    whole = _told(_read_as(GROWN, dialect))
    parts = GROWN.splitlines(keepends=True)
    if lines == 9:  # in the middle of a quoted cell
        return
    head, tail = b"".join(parts[: lines - 1]), b"".join(parts[lines - 1 :])
    before = _read_as(head, dialect)
    after = _read_as(tail, dialect, start=Start(lines, before[-1].headers))
    assert _told(before) + _told(after) == whole


def test_the_header_alone_can_be_asked_for() -> None:
    header = read_header(io.BytesIO(b"title\n\nZeit;Maschine\n"), "a.csv", Dialect(wanted=("Zeit", "Maschine")))
    assert header is not None
    assert (header.names, header.dialect.delimiter, header.line, header.above) == (("Zeit", "Maschine"), ";", 3, 1)
    assert read_header(io.BytesIO(b"\n\n"), "a.csv", Dialect()) is None


def test_a_line_that_is_too_long_costs_itself_only() -> None:
    data = b"a,b\n1,2\n" + b"x" * (20 << 20) + b'\n"3,\n' + b"y" * (17 << 20) + b'",4\n5,6\n'
    batches = _read(data)
    assert [row[1] for row in _rows(batches)] == ["1,2", "5,6"]
    # 20 MiB less 64 KiB are 20,905,984 bytes. An open quote does not reach into what was left out.
    assert [(line, len(text), reason[:60]) for line, text, reason in _aside(batches)] == [
        (3, 65536, "The line is longer than 16 MiB; 20,905,984 bytes of it are l"),
        (4, 3, "The quotes do not balance. Expected a quoted cell to end in "),
        (5, 65536, "The line is longer than 16 MiB; 17,760,259 bytes of it are l"),  # 17 MiB and 3, less 64 KiB
    ]


PIECES = st.sampled_from(
    [
        *(b"\n", b"\n", b"\r\n", b"\r", b",", b";", b"\t", b"|", b'"', b'"', b"'", b"a", b"b", b" ", b"x" * 25),
        *(b"at,machine,event\n", b"at;machine;event\n", b"event,at,machine\n"),
        *(b"\x00", b"\xff", b"\xc3\xa9", b"\xef\xbb\xbf", b"\x81", b"\xe9"),
    ]
)
DIALECTS = st.builds(
    Dialect,
    delimiter=st.sampled_from(["", "", ",", ";", "\t", " ", "é", "a"]),
    quote=st.sampled_from(['"', '"', "'", "", "«"]),
    encoding=st.sampled_from(["utf-8", "mixed", "", "windows-1252", "utf-16-le", "shift_jis"]),
    header_row=st.sampled_from([None, None, 0, 1, 3]),
    wanted=st.sampled_from([(), ("at",), ("at", "machine", "event"), ("a", "b")]),
)


def _short(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(lines_module, "LONGEST_LINE", 40)
    patch.setattr(lines_module, "FIRST_PART", 8)


@pytest.mark.lengthy
@settings(deadline=None, max_examples=300)
@given(
    st.lists(PIECES, max_size=40).map(b"".join) | st.binary(max_size=60), DIALECTS, st.integers(1, 50), st.booleans()
)
@example(b"at,machine,event\n" * 3, Dialect(",", header_row=0, wanted=("at",)), 1, False)
def test_any_bytes_in_any_dialect_and_blocks_of_any_size(
    data: bytes, dialect: Dialect, block_bytes: int, is_short: bool
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        if is_short:
            _short(patch)
        try:
            told = _told(_read_as(data, dialect))
        except FeedError:
            with pytest.raises(FeedError, match=r"^a\.csv[^\n]*$"):
                _read_as(data, dialect, block_bytes)
            return
        assert _told(_read_as(data, dialect, block_bytes)) == told
    numbers = [each[0] for each in told if each[-1] != "finding"]
    assert len(set(numbers)) == len(numbers)
    assert min(numbers, default=1) > 0


@settings(deadline=None, max_examples=200)
@given(st.lists(PIECES, max_size=40).map(b"".join), DIALECTS, st.integers(1, 50))
def test_without_quotes_every_line_below_the_header_is_a_row_or_set_aside(
    data: bytes, dialect: Dialect, block_bytes: int
) -> None:
    dialect = Dialect(dialect.delimiter, "", dialect.encoding, dialect.header_row, dialect.wanted)
    text = decoded(io.BytesIO(data), dialect.encoding).read().removeprefix(b"\xef\xbb\xbf")
    try:
        batches = _read_as(data, dialect, block_bytes)
        header = read_header(decoded(io.BytesIO(data), dialect.encoding), "a.csv", dialect)
    except FeedError:
        return
    above = header.line if header else 0
    # bytes.splitlines knows LF, CRLF and CR, and a row is a physical line that is not empty.
    lines = [number for number, line in enumerate(text.splitlines(), start=1) if line and number > above]
    read = sorted(line for batch in batches for frame in (batch.rows, batch.aside) for line in frame["line"].to_list())
    assert read == lines
    assert sum(batch.read_count for batch in batches) == len(lines)


def test_ten_thousand_columns_are_read_in_any_dialect() -> None:
    names = [f"c{k}" for k in range(10_000)]
    data = "\n".join([";".join(names), ";".join("v" for _ in names)]).encode()
    (batch,) = _read_as(data, Dialect())
    assert (len(batch.headers), batch.rows.width, batch.rows.height) == (10_000, 10_002, 1)
    with pytest.raises(FeedError, match="10001 columns"):
        _read_as(b";" * 10_000, Dialect())


def test_canonical_is_what_is_read_if_nothing_is_said() -> None:
    assert _told(_read(GROWN)) == _told(_read_as(GROWN, CANONICAL))


def test_a_column_name_of_two_megabytes_is_a_name_like_any_other() -> None:
    name = "a" * 2_000_000
    (batch,) = read_csv(io.BytesIO(f"{name},b\n1,2\n{name},b\n".encode()), "a.csv", Dialect(delimiter=","))
    assert batch.headers == (name, "b")
    assert batch.rows["line"].to_list() == [2]
    assert batch.aside["line"].to_list() == [3]


@pytest.mark.parametrize("length", [1, 2, 7, 99])
def test_a_block_cut_by_its_cells_gives_the_same_rows(monkeypatch: pytest.MonkeyPatch, length: int) -> None:
    """Records over several lines, quotes that never close, damaged lines and a new header, wherever the cut falls."""
    record = b'1,"a' + b"\nb" * (length - 1) + b'"\n2,c\n\xff,d\n"e,f\n'
    data = b"x,y\n" + record * 60 + b"x,y,z\n" + b"1,2,3\n" * 400 + record * 3
    whole = _told(_read(data))
    monkeypatch.setattr(csv_reader, "MOST_CELLS", 400)
    batches = _read(data)
    assert len(batches) > 4
    assert _told(batches) == whole
