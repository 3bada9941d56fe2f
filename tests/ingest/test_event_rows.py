"""What is left out of a stored event is written again letter by letter, and both ways of reading store the same."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest import event_rows
from pipeline.ingest.batch import all_aside
from pipeline.ingest.dialect import CANONICAL
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.ledger import open_tables
from pipeline.ingest.rows import type_rows
from pipeline.ingest.text.csv_reader import read_csv
from pipeline.ingest.text.lean_reader import read_lean
from pipeline.store import Store

DIALECT = replace(CANONICAL, wanted=EVENTS.required)
HEADER = "at,machine,event,value,detail"
ZONE = ZoneInfo("Europe/Stockholm")
COLUMNS = [name for name, _ in EVENTS.table_columns if name != "file"]


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with Store(Path(":memory:")) as opened:
        open_tables(opened)
        yield opened


def _typed(read, data: bytes, **how: object) -> tuple[pl.DataFrame, pl.DataFrame]:
    typed = [type_rows(EVENTS, batch, ZONE) for batch in read(io.BytesIO(data), "a.csv", DIALECT, **how)]
    return pl.concat([kept for kept, _ in typed]), all_aside([aside for _, aside in typed])


def _stored(store: Store, kept: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The rows as the table holds them, and as the view shows them."""
    store.run(f"delete from {event_rows.TABLE}")
    store.append(event_rows.TABLE, event_rows.lean_rows(kept).with_columns(pl.lit("a.csv").alias("file")))
    return (
        store.read(f"select * from {event_rows.TABLE} order by line"),
        store.read("select * from raw_events order by line").select(COLUMNS),
    )


DAY = st.sampled_from(
    ["2031-03-01", "2031-03-30", "2031-10-26", "1900-01-01", "2199-12-31", "2031-02-29", "2032-02-29"]
)
CLOCK = st.sampled_from(["20:00:00", "00:00:00", "23:59:59", "02:30:00", "24:00:00", "23:59:60", "7:00:00", "20:00"])
FRACTION = st.sampled_from(["", ".1", ".250", ".000001", ".123456", ".1234567", ".", ",5", ".0"])
ENDING = st.sampled_from(["", "Z", "+01:00", "-00:00", "+00:00", "-05:30", "+0100", "+01", "+14:00", "+23:59", "z"])
STAMP = st.builds(lambda *parts: "".join(parts), DAY, st.sampled_from(["T", "T", " ", "t"]), CLOCK, FRACTION, ENDING)
USUAL = st.builds(
    lambda second, ending: f"2031-03-01T20:00:{second:06.3f}{ending}", st.integers(0, 59999).map(lambda n: n / 1000),
    st.sampled_from(["", "Z", "+01:00"]),
)  # fmt: skip
VALUE = st.sampled_from(
    [
        "",
        "0.04",
        "-0.013",
        "5",
        "0",
        "-5",
        "5.0",
        "0.040",
        ".5",
        "+1",
        "1e3",
        "-0",
        "0.00001",
        "123456789.5",
        "1234567890",
    ]
) | st.floats(allow_nan=True, allow_infinity=True).map(str)
DETAIL = st.sampled_from(["", "VT2", "tape tension low", " edge", "ä ö", "a'b", "%d", "x" * 80]) | st.text(
    st.characters(exclude_characters='\n\r\x00",', codec="utf-8"), max_size=6
)
MACHINE, EVENT = st.sampled_from(["VT1", "", "VT 2", "Ä3"]), st.sampled_from(["roll", "alive", "offset", "rol", ""])
ROW = st.builds(lambda *cells: ",".join(cells), USUAL | STAMP, MACHINE, EVENT, VALUE, DETAIL)


@pytest.mark.lengthy
@settings(max_examples=300)
@given(st.lists(ROW, max_size=12), st.sampled_from([HEADER, "at,machine,event,detail,value", f"{HEADER},more"]))
def test_rows_come_back_as_they_were_read(store: Store, lines: list[str], header: str) -> None:
    more = "x" if header.endswith("more") else None
    data = "\n".join([header, *(f"{line},{more}" if more else line for line in lines), ""]).encode()
    careful, aside = _typed(read_csv, data)
    lean, lean_aside = _typed(read_lean, data, block_bytes=400)
    assert lean_aside.rows() == aside.rows()
    table, shown = _stored(store, lean)
    assert shown.rows() == careful.select(COLUMNS).rows()
    assert table.rows() == _stored(store, careful)[0].rows()


def test_a_line_that_says_nothing_odd_keeps_no_text(store: Store) -> None:
    """Worked by hand. Winter time in Stockholm is 3600 s east of UTC; "Z" is none and an offset its own.

    0.040 is not how 0.04 is written, and a stamp with a space, or to the minute, is not spelled as usual: these stay.
    """
    lines = [
        "2031-03-01T20:00:00.250,VT1,roll,,",
        "2031-03-01T20:00:00Z,VT1,offset,-0.013,VT2",
        "2031-03-01T20:00:00-05:30,VT1,hours,5,",
        "2031-03-01 20:00:00,VT1,roll,,",
        "2031-03-01T20:00,VT1,roll,,",
        "2031-03-01T20:00:00Z,VT1,offset,0.040,",
    ]
    kept, _ = _typed(read_lean, "\n".join([HEADER, *lines, ""]).encode())
    table, shown = _stored(store, kept)
    assert shown["text"].to_list() == lines
    assert table.select("text_kept", "at_text_kept", "east_s", "ending").rows() == [
        (None, None, 3600, 0),
        (None, None, 0, 1),
        (None, None, -19800, 2),
        (None, "2031-03-01 20:00:00", None, None),
        (None, "2031-03-01T20:00", None, None),
        ("2031-03-01T20:00:00Z,VT1,offset,0.040,", None, 0, 1),
    ]
