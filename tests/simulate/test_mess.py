"""Mess: adds, never takes away; and nothing moves past midnight."""

from __future__ import annotations

import numpy as np
import polars as pl

from pipeline.simulate import Parameters
from pipeline.simulate.mess import Fates, mess_feed, mess_lines, row_fates
from pipeline.simulate.parameters import SECOND

ROOM = Parameters(days=2, mess=0.3)


def fates(again: str, spoilt: str, later: str) -> Fates:
    """A mark for every row that has the fate."""
    return Fates(*(np.array([mark == "x" for mark in marks]) for marks in (again, spoilt, later)))


def test_each_fate_befalls_a_third_of_the_share() -> None:
    at = ROOM.started_us + np.arange(100_000) * 1_000_000  # 27.8 hours, a row a second
    found = row_fates(ROOM, 0, at)
    # 0.1 of n = 100,000 rows, with standard deviation sqrt(n · 0.1 · 0.9) = 95; four of them.
    for marked in (found.again, found.spoilt, found.later):
        assert abs(int(marked.sum()) - 10_000) < 380
    assert not (found.again & found.spoilt | found.spoilt & found.later | found.again & found.later).any()


def test_nothing_moves_past_midnight() -> None:
    midnight = ROOM.started_us + 86_400 * SECOND
    before = row_fates(Parameters(days=2, mess=0.5), 0, midnight - np.arange(1, 2_000_000, 1999))
    assert not before.again.any()
    assert not before.later.any()
    assert before.spoilt.any()


def test_lines_with_their_fates() -> None:
    lines = pl.DataFrame(
        {
            "place": [0, 4_000_000, 8_000_000],
            "at": [0, 4_000_000, 8_000_000],
            "text": ["a,VT01,roll,,\n", "b,VT01,lock,,\n", "c,VT01,picture_lost,,\n"],
        }
    )
    messed = mess_lines(lines, fates("x--", "-xx", "-x-"))
    # The first comes again two seconds later. The second stands half a minute further down, and beside its old place
    # a copy with no readable time; 8 s is 2,000,000 quarters of a microsecond: even, as 4 s, so the third's copy too.
    assert messed.lines["text"].to_list() == [
        "a,VT01,roll,,\n",
        "a,VT01,roll,,\n",
        "abt b,VT01,lock,,\n",
        "c,VT01,picture_lost,,\n",
        "abt c,VT01,picture_lost,,\n",
        "b,VT01,lock,,\n",
    ]
    assert (messed.repeats, messed.set_aside) == (1, 2)


def test_half_of_the_unreadable_lines_have_an_event_that_nobody_knows() -> None:
    lines = pl.DataFrame({"place": [4], "at": [4], "text": ["2031-03-01T00:00:00.000004Z,VT01,picture_lost,,\n"]})
    messed = mess_lines(lines, fates("-", "x", "-"))
    assert messed.lines["text"].to_list()[1] == "2031-03-01T00:00:00.000004Z,VT01,rol1,,\n"


def test_rows_of_a_small_feed_with_their_fates() -> None:
    rows = pl.DataFrame({"ticket": ["F1", "F2", "F3"], "opened": ["one", "two", "three"]})
    messed = mess_feed(rows, fates("x--", "--x", "-x-"), "opened")
    # F1 comes again after the next row; F2 stands after F3; the unreadable F3 stands before the good one.
    assert messed.rows.rows() == [("F1", "one"), ("F1", "one"), ("F3", "abt three"), ("F3", "three"), ("F2", "two")]
    assert (messed.repeats, messed.set_aside) == (1, 1)
