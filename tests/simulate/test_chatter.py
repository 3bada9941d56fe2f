"""Chatter: in order, never twice, spaced as asked for; stretches that hold a time or not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pipeline.simulate import Parameters
from pipeline.simulate.chatter import Chatter, Stretches
from pipeline.simulate.parameters import SECOND

ROOM = Parameters(days=2)


def due(chatter: Chatter, start: int, end: int) -> list[int]:
    return [at for part in chatter.parts(0, start, end) for at in part.at.tolist()]


@given(st.sampled_from((0.01, 0.3, 7.0, 90.0)), st.integers(0, 3))
def test_lines_come_in_order_on_odd_microseconds_and_close_enough(per_second: float, seed: int) -> None:
    chatter = Chatter(replace(ROOM, seed=seed), per_second)
    end = ROOM.started_us + round(2000 / per_second) * SECOND
    at = np.array(due(chatter, ROOM.started_us, end))
    # 2,000 steps of 1 / rate, the end of the last rounded to a second.
    assert abs(len(at) - 2000) <= 1 + per_second
    apart = np.diff(at)
    assert (at % 2 == 1).all()
    # A line is due within the first half of its step, so that two are half a step to one and a half apart.
    step = SECOND / per_second
    assert (apart >= step / 2 - 2).all()
    assert (apart <= 1.5 * step + 2).all()


def test_a_stretch_has_the_lines_that_the_whole_has_there() -> None:
    chatter = Chatter(ROOM, 2.0)
    start, middle, end = (ROOM.started_us + hours * 3600 * SECOND for hours in (0, 1, 3))
    whole = due(chatter, start, end)
    parts = due(chatter, start, middle) + due(chatter, middle, end)
    # At most the line whose jitter takes it over the edge is in neither.
    assert set(parts) <= set(whole)
    assert len(whole) - len(parts) <= 1


def test_no_rate_is_no_line() -> None:
    assert due(Chatter(ROOM, 0.0), ROOM.started_us, ROOM.ended_us) == []


def test_a_slow_room_logs_no_alive() -> None:
    # silence_s is 180 s and lines are at most one and a half steps apart: 150 s at 0.01 a second.
    assert Chatter(ROOM, 0.01).is_alive
    assert not Chatter(ROOM, 0.0099).is_alive
    assert Chatter(ROOM, 0.0099).is_hours(np.arange(3)).all()


@given(st.lists(st.integers(0, 40), max_size=8, unique=True), st.lists(st.integers(-2, 42), max_size=30))
def test_stretches_hold_what_lies_in_them(edges: list[int], times: list[int]) -> None:
    pairs = list(zip(sorted(edges)[::2], sorted(edges)[1::2], strict=False))
    start, end = (np.array([pair[side] for pair in pairs], dtype=np.int64) for side in (0, 1))
    ordered = sorted(times)
    expected = [any(low <= time < high for low, high in pairs) for time in ordered]
    assert Stretches(start, end).hold(np.array(ordered, dtype=np.int64)).tolist() == expected
