"""Lines typed once for each ending are stored as if each were typed by itself."""

from __future__ import annotations

import io
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.alike_rows import AlikeTyping
from pipeline.ingest.batch import all_aside
from pipeline.ingest.event_rows import COLUMNS, lean_rows
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.rows import type_rows
from pipeline.ingest.text import alike
from pipeline.ingest.text.csv_reader import read_csv
from pipeline.ingest.text.lean_reader import read_lean
from pipeline.ingest.times.reading import Reading
from tests.ingest.test_event_rows import DIALECT, HEADER, ROW

READING = Reading(ZoneInfo("Europe/Stockholm"))
STORED = [name for name, _ in COLUMNS if name != "file"]
ENDING = st.sampled_from(
    ["VT1,alive,,", "VT1,alive,,", "VT2,lock,,", "VT1,rol1,,", "VT1,offset,0.04,VT2", "VT1,offset,0.040,", "VT1,roll"]
)
ANY = st.sampled_from(["", HEADER, "2031,VT1", '"', "a\x00b,,,,"])
# 30 March and 26 October 2031 are days of a clock change in Stockholm.
DAY = st.sampled_from(["2031-03-01", "2031-03-01", "2031-07-01", "2031-03-30", "2031-10-26", "2031-02-30"])
USUAL = st.builds(
    lambda day, second, ending: f"{day}T02:{second // 60:02}:{second % 60:02}.5,{ending}",
    DAY,
    st.integers(0, 3599),
    ENDING,
)


def _stored(data: bytes) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]], int]:
    """All that is stored and set aside by way of alike lines, and how many there were of them."""
    typing = AlikeTyping(READING)
    stored, aside, count = [], [], 0
    for batch in read_lean(io.BytesIO(data), "a.csv", DIALECT, finds_alike=True):
        lean, left = typing.take(batch)
        kept, wrong = type_rows(EVENTS, left, READING)
        assert batch.read_count == kept.height + wrong.height + (0 if lean is None else lean.height)
        count += 0 if lean is None else lean.height
        stored += [lean_rows(kept).select(STORED), *([] if lean is None else [lean.select(STORED)])]
        aside.append(wrong)
    rows = pl.concat(stored).sort("line").rows() if stored else []
    return rows, all_aside(aside).rows(), count


def _one_by_one(data: bytes) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]]]:
    typed = [type_rows(EVENTS, batch, READING) for batch in read_csv(io.BytesIO(data), "a.csv", DIALECT)]
    rows = [row for kept, _ in typed for row in lean_rows(kept).select(STORED).sort("line").iter_rows()]
    return rows, all_aside([aside for _, aside in typed]).rows()


@pytest.fixture(autouse=True, scope="module")
def small() -> object:
    """Blocks of a few lines are looked at."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(alike, "LEAST_STEP", 1)
        yield


def _data(header: str, lines: list[str]) -> bytes:
    return "".join(f"{line}\n" for line in [header, *lines]).encode()


@pytest.mark.lengthy
@settings(max_examples=200)
@given(
    st.lists(USUAL | ROW | ANY, max_size=40) | st.lists(USUAL, max_size=80),
    st.sampled_from([HEADER, "at,machine,event,detail,value", "machine,at,event,value,detail"]),
)
def test_both_ways_store_the_same(lines: list[str], header: str) -> None:
    data = _data(header, lines)
    rows, aside, _ = _stored(data)
    assert (rows, aside) == _one_by_one(data)


def test_the_lines_of_a_log_are_alike() -> None:
    """Of 180 lines 2 have a value that comes once, 3 an unknown event of which all are set aside, 60 lie in the night
    of a clock change: 180 − 2 − 3 − 60 = 115 are typed by their ending."""
    lines = [f"2031-03-01T20:00:{second:02},VT1,alive,," for second in range(60)]
    lines += [f"2031-03-02T20:00:{second:02},VT1,alive,," for second in range(58)]
    lines += [f"2031-10-26T02:00:{second:02},VT1,alive,," for second in range(60)]
    lines[3:6] = [line.replace("alive", "rol1") for line in lines[3:6]]
    lines += ["2031-03-02T20:01:00,VT1,offset,0.01,", "2031-03-02T20:01:01,VT1,offset,0.02,"]
    rows, aside, count = _stored(_data(HEADER, lines))
    assert (len(rows), len(aside), count) == (177, 3, 115)
    assert (rows, aside) == _one_by_one(_data(HEADER, lines))
