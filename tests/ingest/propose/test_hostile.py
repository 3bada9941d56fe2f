"""Files made to break out of the proposal, and any bytes at all: a proposal that is accepted, or one plain sentence."""

from __future__ import annotations

import time
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.propose import propose_table
from tests.ingest.propose.exports import EXPORTS
from tests.ingest.propose.reading_back import accepted, table_of

ENDS = (".csv", ".log", ".jsonl", ".txt", ".xlsx", ".parquet", ".csv.gz", ".zip", ".zst", ".ics", ".ods")
WICKED = (
    '"',
    "'",
    "\n",
    "\r\n",
    "\r",
    "\x00",
    "]]",
    "[[feeds]]",
    "#",
    "=",
    '"""',
    "\u2028",
    "\u0085",
    "\x1b[31m",
    "\\",
    "\ud800",
)
KEYS = {"name", "timezone", "day_starts", "frame_rate", "feeds"}


def _survives(path: Path, kind: str = "") -> None:
    """The door gives an accepted proposal, or a refusal of one line."""
    proposal, refusal = None, ""
    try:
        proposal = propose_table(path, kind)
    except FeedError as error:
        refusal = str(error)
    if proposal is None:
        assert len(refusal.splitlines()) == 1
        return
    accepted(proposal.text, path.parent / "site")
    assert set(tomllib.loads(proposal.text)) <= {"feeds"}
    assert all("\n" not in sentence for sentence in proposal.undecided)


@pytest.mark.lengthy
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=400), end=st.sampled_from(ENDS))
def test_any_bytes_give_a_proposal_or_a_refusal(tmp_path: Path, data: bytes, end: str) -> None:
    path = tmp_path / f"any{end}"
    path.write_bytes(data)
    _survives(path)


@pytest.mark.lengthy
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cells=st.lists(st.lists(st.text(max_size=12), min_size=2, max_size=4), min_size=2, max_size=8))
def test_any_table_gives_a_proposal_or_a_refusal(tmp_path: Path, cells: list[list[str]]) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes("\n".join(";".join(row) for row in cells).encode("utf-8", "surrogatepass"))
    _survives(path, "events")


@pytest.mark.lengthy
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_spoiled_export_gives_a_proposal_or_a_refusal(tmp_path: Path, data: st.DataObject) -> None:
    export = data.draw(st.sampled_from(EXPORTS))
    path = tmp_path / export.name
    export.write(path)
    content = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(content)))
        piece = data.draw(st.sampled_from(WICKED)).encode("utf-8", "surrogatepass")
        content[place : place + data.draw(st.integers(0, 9))] = piece
    path.write_bytes(bytes(content))
    _survives(path)


@pytest.mark.parametrize("wicked", [each for each in WICKED if each not in ("\x00", "\ud800")], ids=ascii)
def test_words_and_headers_cannot_break_out(tmp_path: Path, wicked: str) -> None:
    evil = f'x{wicked}kind = "tickets"{wicked}[[feeds]]{wicked}y'.replace('"', '""')
    rows = "".join(f'2031-03-09T20:00:0{k},VT{k % 2 + 1},"{evil}",{k}\n' for k in range(9))
    path = tmp_path / "evil.csv"
    path.write_text(f'time,unit,event,"{evil}"\n{rows}', encoding="utf-8", newline="")
    proposal = propose_table(path, "events")
    (table,) = accepted(proposal.text, tmp_path / "site").tables
    assert table.feed.name == "events"
    assert set(table_of(proposal)) <= {"kind", "path", "format", "delimiter", "encoding", "columns", "words"}


def test_words_that_are_proposed_survive_their_quotes(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text('time,unit,event\n2031-03-09T20:00:00,VT1,"""roll\\"""\n2031-03-09T20:00:01,VT1,"stop\t"\n')
    proposal = propose_table(path)
    assert table_of(proposal)["words"]["event"] == {'"roll\\"': "roll"}  # stop is ours once the cell is stripped
    accepted(proposal.text, tmp_path / "site")


def test_a_name_of_a_file_cannot_break_out(tmp_path: Path) -> None:
    for name in ('a"]b.csv', "a#b.csv", "a\\b.csv", "C:a.csv", "a[1]*?.csv", ".a.csv"):
        path = tmp_path / name
        path.write_text("time,unit,event\n2031-03-09T20:00:00Z,VT1,roll\n")
        proposal = propose_table(path)
        (table,) = accepted(proposal.text, tmp_path / "site").tables
        assert [found.name for found in tmp_path.glob(table.paths[0])] == [name]
        path.unlink()
    path = tmp_path / "a\nb.csv"
    path.write_text("x")
    with pytest.raises(FeedError, match="not plain UTF-8 text"):
        propose_table(path)


@pytest.mark.slow
def test_ten_thousand_columns_are_survived(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(",".join(f"c{k}" for k in range(10_000)) + "\n" + ",".join(["1"] * 10_000) + "\n")
    began = time.monotonic()
    proposal = propose_table(path, "events")
    assert time.monotonic() - began < 60
    accepted(proposal.text, tmp_path / "site")
    assert len(proposal.text) < 20_000
    assert "Only the first 300 columns were looked at" in proposal.text
    path.write_text(",".join(f"c{k}" for k in range(10_001)) + "\n")
    with pytest.raises(FeedError):
        propose_table(path, "events")


def test_cells_of_a_megabyte_are_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    long = "A" * 1_000_000
    rows = "".join(f"2031-03-09T20:00:0{k},VT1,{long}{k},n\n" for k in range(5))
    path.write_text(f"time,unit,event,{'H' * 1_000_000}\n{rows}")
    began = time.monotonic()
    proposal = propose_table(path)
    assert time.monotonic() - began < 60
    assert len(proposal.text) < 10_000
    accepted(proposal.text, tmp_path / "site")


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("a.csv", b"", "is empty"),
        ("a.csv", b"\n\n \n", "is empty"),
        ("a.csv", b"time,unit,event\n", "holds no row"),
        ("a.bin", bytes(range(32)) * 9, "is no text"),
        ("a.json", b'[{"a": 1}, {"a": 2}]', "is one JSON array"),
        ("a.csv", b"\x1f\x8b\x08\x00", "packed with gzip, but its name does not say so"),
        ("a.csv.gz", b"time,unit,event\n", "is not packed with gzip"),
        ("a.xlsx", b"PK\x03\x04 cut off", "cannot be read"),
        ("a.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 cut off", "cannot be read"),
        ("a.parquet", b"PAR1 cut off", "cannot be read"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_line(tmp_path: Path, name: str, content: bytes, told: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(FeedError, match=told) as caught:
        propose_table(path)
    assert len(str(caught.value).splitlines()) == 1


def test_a_folder_and_a_file_that_is_not_there_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FeedError, match="is no file"):
        propose_table(tmp_path)
    with pytest.raises(FeedError, match="cannot be read"):
        propose_table(tmp_path / "none.csv")


def test_a_line_end_in_a_cell_breaks_no_sentence(tmp_path: Path) -> None:
    """A date that fits no one order with the others is quoted, and has come apart at a line end."""
    path = tmp_path / "a.csv"
    cells = "".join(f'"03/09/2031 08:0{k}:00 PM","VT1","roll"\n' for k in range(9))
    path.write_text(f'"time","unit","event"\n{cells}"03/10/2\n10:00:00 AM","VT1","roll"\n', encoding="utf-8")
    assert any("03/10/2 10:00" in sentence for sentence in propose_table(path, "events").undecided)
    _survives(path, "events")
