"""Repeats are found over the time that changed, and are what comparing all rows finds."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.ingest import repeats
from pipeline.store import Store

HEADER = "at,machine,event,value,detail\n"
# The definition in one window over all rows: a row is a repeat if an equal one stands before it by file and line.
ALL_ROWS = """
    select file, line from (
        select file, line, row_number() over (
            partition by stamped_at_utc, machine, event, value, detail, extra order by file, line
        ) as copy_no
        from raw_events
    ) where copy_no > 1 order by file, line
"""
FOUND = "select file, line from raw_event_repeats order by file, line"


def _row(minute: int, machine: str = "VT1", value: str = "") -> str:
    return f"2031-03-01T20:{minute:02}:00Z,{machine},alive,{value},\n"


def test_the_first_by_file_and_line_is_kept(site) -> None:
    """Worked by hand: b.csv line 2 is as a.csv line 3; a.csv line 4 as its line 2; another value is another row."""
    site.write("events/a.csv", HEADER + _row(1) + _row(2) + _row(1) + _row(3))
    site.write("events/b.csv", HEADER + _row(2) + _row(3, value="1") + _row(3, "VT2"))
    site.load()
    assert site.rows(FOUND) == [{"file": "events/a.csv", "line": 4}, {"file": "events/b.csv", "line": 2}]


def test_a_file_that_leaves_or_comes_before_makes_another_row_the_first(site) -> None:
    site.write("events/a.csv", HEADER + _row(1))
    site.write("events/b.csv", HEADER + _row(1) + _row(2))
    site.load()
    assert site.rows(FOUND) == [{"file": "events/b.csv", "line": 2}]
    (site.folder / "events/a.csv").unlink()
    site.load()
    assert site.rows(FOUND) == []
    site.write("events/0.csv", HEADER + _row(2))
    site.load()
    assert site.rows(FOUND) == [{"file": "events/b.csv", "line": 3}]


STEP = st.tuples(
    st.sampled_from(["a", "b", "c"]),
    st.none() | st.lists(st.tuples(st.integers(0, 9), st.sampled_from("12")), max_size=6),
)


@pytest.mark.lengthy
@settings(max_examples=24, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(STEP, min_size=1, max_size=4), st.sampled_from([3, 10_000_000]))
def test_any_order_of_loading_changing_and_leaving_finds_what_one_look_at_all_rows_does(
    site, steps, at_once: int
) -> None:
    site.write("events/0.csv", HEADER + _row(5) + _row(30))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(repeats, "ROWS_AT_ONCE", at_once)
        for name, rows in steps:
            path = site.folder / f"events/{name}.csv"
            if rows is None:
                path.unlink(missing_ok=True)
            else:
                site.write(
                    f"events/{name}.csv", HEADER + "".join(_row(minute, f"VT{number}") for minute, number in rows)
                )
            site.load()
            assert site.rows(FOUND) == site.rows(ALL_ROWS)


def test_spans_that_touch_are_one() -> None:
    day = [datetime(2031, 3, number) for number in range(10)[1:]]  # noqa: DTZ001 - naive UTC, as in all tables
    spans = [(day[3], day[4]), (day[0], day[2]), (day[2], day[2]), (day[4], day[6]), (day[8], day[8])]
    assert repeats._joined(spans) == [(day[0], day[2]), (day[3], day[6]), (day[8], day[8])]


def test_parts_leave_no_gap_and_overlap_nowhere(tmp_path: Path) -> None:
    """Ten rows, three at once: four parts of a quarter of 9 µs each; whole microseconds, so that none lies between."""
    with Store(Path(":memory:")) as store:
        store.run("create table raw_events as select make_timestamp(r) as stamped_at_utc from range(10) as t(r)")
        first, last = store.read("select min(stamped_at_utc), max(stamped_at_utc) from raw_events").row(0)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(repeats, "ROWS_AT_ONCE", 3)
            parts = repeats._parts(store, first, last)
    assert (parts[0][0], parts[-1][1], len(parts)) == (first, last, 4)
    assert all(one[1] + datetime.resolution == other[0] for one, other in pairwise(parts))
