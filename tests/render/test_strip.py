"""The paired strip on a scene made by hand: where the line runs, and that gaps are drawn as gaps."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from pipeline.render.strip import draw_strip
from pipeline.render.strip_lanes import machine_stretches, machine_told
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
        boxes = sorted(_box(mark) for mark in placed if mark.level == level)
        assert all(first[1] <= second[0] for first, second in pairwise(boxes))
        assert all(box[0] >= 0 and box[1] <= 880 for box in boxes)


def _box(mark: Mark) -> tuple[float, float]:
    size = LETTER * len(mark.label)
    return (mark.words_x - size, mark.words_x) if mark.anchor == "end" else (mark.words_x, mark.words_x + size)


def test_words_keep_clear_of_the_way_of_the_programme() -> None:
    """ "unlock" is 6 letters, 45.6 with its margins: behind 500 it would end at 545.6, across a wall at 520."""
    free = place_marks([Mark(500, "unlock")], 1, 880)[0]
    walled = place_marks([Mark(500, "unlock")], 1, 880, walls=[520])[0]
    between = place_marks([Mark(500, "unlock")], 1, 880, walls=[490, 520])[0]
    assert (free.anchor, free.words_x) == ("start", 503)
    assert (walled.anchor, walled.words_x) == ("end", 497)
    assert (between.anchor, between.words_x) == ("start", 503)


def test_long_words_stand_across_their_instant_where_neither_side_has_room() -> None:
    """30 letters are 204 wide; in a frame of 340 the middle, 170, has 170 on both sides: they stand from 68 to 272."""
    mark = place_marks([Mark(170, "a" * 30)], 1, 340)[0]
    assert (mark.level, mark.anchor, mark.words_x) == (0, "start", 71)


def test_a_take_away_pushes_the_words_of_its_lane_aside() -> None:
    """At 30 s is 132 + 7.38 × 30 = 353.4; the way leaves T1 at 40 s, 427.2, and its 12 letters would reach 438.6."""
    events = [{"machine": name, "event": "picture_lost", "detail": None, "at_utc": t(30)} for name in ("T1", "T2")]
    lanes = {lane.name: lane for lane in draw_strip(scene(events=events), t(0), t(100), LOCAL).lanes}
    assert [(mark.x, mark.anchor) for mark in lanes["T1"].marks] == [(353.4, "end")]
    assert [(mark.x, mark.anchor) for mark in lanes["T2"].marks] == [(353.4, "start")]


def test_what_is_not_known_of_a_machine_goes_over_its_bare_state() -> None:
    whole = scene(not_known=[span(10, 50, machine="T2")])
    assert machine_told(whole, "T2", Axis(t(0), t(100))) == [
        (t(0), t(10), "not-known"),
        (t(10), t(50), "not-known"),
        (t(50), t(60), "covered"),
        (t(60), t(100), "not-known"),
    ]


def test_only_words_that_should_be_there_are_missed() -> None:
    last = [{"machine": "T7", "event": "roll", "at_utc": t(-90)}]
    faults = [{"machine": "T7", "event": "unlock", "detail": None, "at_utc": t(50)} for _ in range(9)]
    assert draw_strip(scene(others_last=last, others_events=faults), t(0), t(100), LOCAL).unlabelled == 0
    keys = tuple((t(50), f"key {number}") for number in range(9))
    # Four lines, and on each room for one behind the instant and one before it: eight of nine.
    assert draw_strip(scene(keys=keys), t(0), t(100), LOCAL).unlabelled == 1


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
