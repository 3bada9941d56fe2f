"""The paired strip on a scene made by hand: where the line runs, and that gaps are drawn as gaps."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from pipeline.render.strip import draw_strip
from pipeline.render.strip_lanes import machine_stretches
from pipeline.render.strip_marks import LETTER, Mark, place_marks
from pipeline.render.strip_scene import NARROW, Axis, Scene
from pipeline.render.words import Local

LOCAL = Local(ZoneInfo("UTC"))
T0 = datetime.fromisoformat("2031-03-01 20:00:00")


def t(seconds: float) -> datetime:
    return T0 + timedelta(seconds=seconds)


def span(start: float, end: float | None, **more: Any) -> dict[str, Any]:
    return {"started_at_utc": t(start), "ended_at_utc": None if end is None else t(end), **more}


def scene(**changes: Any) -> Scene:
    base: dict[str, Any] = {
        "channel": "One",
        "machines": ("T1", "T2"),
        "roles": {"T1": "air", "T2": "protect"},
        "feeds": [span(0, 40, feed="T1"), span(40, 40, feed="standby"), span(40, 100, feed="T2")],
        "spans": [span(0, 30, state="covered"), span(30, 40, state="lost"), span(40, 100, state="unknown")],
        "states": [
            span(-50, 30, machine="T1", state="good"),
            span(30, None, machine="T1", state="not good"),
            span(20, 60, machine="T2", state="good"),
        ],
        "not_known": [],
        "motions": [
            {"machine": "T1", "at_utc": t(-50), "event": "roll"},
            {"machine": "T1", "at_utc": t(70), "event": "stop"},
        ],
        "offsets": [{"at_utc": t(10), "offset_s": 0.01, "is_within": True}],
        "events": [],
        "tickets": [],
        "maintenance": [],
        "keys": ((t(30), "air lost"),),
        "tolerance_s": 0.04,
    }
    return Scene(**(base | changes))


def test_the_line_moves_where_the_selector_was_taken() -> None:
    strip = draw_strip(scene(), t(0), t(100), LOCAL)
    lanes = {lane.name: lane for lane in strip.lanes}
    # The plot is 880 − 132 − 10 = 738 wide: 40 of 100 s is at 132 + 295.2 = 427.2. A stay of no length is none.
    top, below = lanes["T1"].y + 8, lanes["T2"].y + 8
    assert strip.paths == (f"M132.0 {top}L427.2 {top}L427.2 {below}L870.0 {below}",)
    assert "standby" not in lanes


def test_air_stands_between_the_pair() -> None:
    names = [lane.name for lane in draw_strip(scene(), t(0), t(100), LOCAL).lanes]
    assert names == ["T1", "air, channel One", "T2", "offset of the pair"]


def test_silence_is_drawn_as_a_gap_and_a_stopped_machine_is_not_a_failed_one() -> None:
    axis = Axis(t(0), t(100))
    assert machine_stretches(scene(), "T1", axis) == [
        (t(0), t(30), "covered"),
        (t(30), t(70), "lost"),
        (t(70), t(100), "stopped"),
    ]
    assert machine_stretches(scene(), "T2", axis) == [
        (t(0), t(20), "not-known"),
        (t(20), t(60), "covered"),
        (t(60), t(100), "not-known"),
    ]
    assert machine_stretches(scene(), "never logged", axis) == [(t(0), t(100), "not-known")]
    air = draw_strip(scene(), t(0), t(100), LOCAL).lanes[1]
    assert [bar.fill for bar in air.bars] == ["covered", "lost", "not-known"]


def test_ticks_are_round_local_times() -> None:
    labels = [label for _, label in draw_strip(scene(), t(0), t(100), LOCAL).ticks]
    assert labels == ["20:00:15", "20:00:30", "20:00:45", "20:01:00", "20:01:15", "20:01:30"]


@given(st.lists(st.tuples(st.floats(132, 870), st.text("abc :", min_size=1, max_size=50)), max_size=12))
def test_words_never_run_into_each_other(marks: list[tuple[float, str]]) -> None:
    placed = place_marks([Mark(x, label) for x, label in marks], 2, 880)
    assert len(placed) == len(marks)
    for level in (0, 1):
        boxes = []
        for mark in placed:
            if mark.level == level:
                size = LETTER * len(mark.label)
                boxes.append((mark.x - size, mark.x) if mark.anchor == "end" else (mark.x, mark.x + size))
        boxes.sort()
        assert all(first[1] <= second[0] for first, second in pairwise(boxes))


def test_a_pair_in_step_and_the_rest_of_the_room_have_their_lanes() -> None:
    pairs = [
        span(0, 20, machine_a="T1", machine_b="T2", is_in_step=None),
        span(20, 30, machine_a="T1", machine_b="T2", is_in_step=True),
        span(30, 50, machine_a="T1", machine_b="T2", is_in_step=False),
    ]
    last = [
        {"machine": "T7", "event": "roll", "at_utc": t(-90)},
        {"machine": "T8", "event": None, "at_utc": None},
    ]
    events = [
        {"machine": "T7", "event": "unlock", "detail": None, "at_utc": t(40)},
        {"machine": "T7", "event": "stop", "detail": None, "at_utc": t(60)},
    ]
    states = [span(-90, 40, machine="T7", state="good"), span(40, None, machine="T7", state="not good")]
    whole = scene(pair_states=pairs, others_last=last, others_events=events, others_states=states)
    lanes = {lane.name: lane for lane in draw_strip(whole, t(0), t(100), LOCAL).lanes}
    assert [bar.fill for bar in lanes["in step?"].bars] == ["unproved", "covered", "exposed"]
    # T7 is good to 40 s, not good while it still rolls, stopped from 60 s; one fault. T8 never said a word: a gap.
    assert [bar.fill for bar in lanes["T7"].bars] == ["covered", "lost", "stopped"]
    assert [mark.label for mark in lanes["T7"].marks] == ["unlock"]
    assert [bar.fill for bar in lanes["T8"].bars] == ["not-known"]


def test_a_phone_gets_the_same_lanes_in_a_narrow_frame() -> None:
    wide, narrow = draw_strip(scene(), t(0), t(100), LOCAL), draw_strip(scene(), t(0), t(100), LOCAL, NARROW)
    assert [lane.name for lane in narrow.lanes] == [lane.name for lane in wide.lanes]
    assert (narrow.width, narrow.is_narrow, wide.is_narrow) == (340.0, True, False)
    assert all(2.0 <= bar.x <= 330.0 for lane in narrow.lanes for bar in lane.bars)
    # 100 s in at most three ticks: the step is 60 s (30 s would give three at 30, 60 and 90: 100 / 30 is above three).
    assert [label for _, label in narrow.ticks] == ["20:01"]
