"""The second reader's states, windows and feeds against cases worked by hand from the contract.

Every expected value is worked in the comment beside it; limits are lead 20, carry 60, silence 10, tail 5 s, gap 1 s.
"""

from __future__ import annotations

import pytest

from tests.second_reader.tiny import Tiny, kinds, pair, seconds, states

WHOLE = (0.0, 100.0, "A1")


def test_a_pair_in_step_is_covered() -> None:
    reading = pair().read()
    assert states(reading) == [(*WHOLE, "covered", None)]
    assert reading.protect_us == {"A2": 100_000_000}  # A2 stood by for all of the 100 s


def test_lost_then_exposed_after_the_take() -> None:
    # A1 unlocks at 40: lost until A2 is taken at 43; from then A2 is good and A1, still unlocked, is the only other.
    reading = pair().log(40, "A1", "unlock").take(43, "A1", "A2").read()
    assert states(reading) == [
        (0, 40, "A1", "covered", None),
        (40, 43, "A1", "lost", None),
        (43, 100, "A2", "exposed", "not good"),
    ]


def test_a_silent_feed_is_unknown() -> None:
    room = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 0, 100).ready(-5, "A2")
    assert states(room.read()) == [(*WHOLE, "unknown", None)]


@pytest.mark.parametrize(
    ("rolled", "state"),
    [
        (-20, "exposed"),  # within lead_s: known by its line
        (-60, "exposed"),  # older, but left rolling and heard from exactly carry_s before
        (-60.5, "unknown"),
    ],
)
def test_carry_reaches_back_from_the_window(rolled: float, state: str) -> None:
    reading = Tiny().book("A1", "air", 0, 50).ready(rolled, "A1").read()
    assert [s.state for s in reading.air] == [state]


def test_unproved_without_an_offset_or_without_a_word() -> None:
    no_offset = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 0, 100).ready(-5, "A1", "A2")
    no_word = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 0, 100).ready(-5, "A1")
    assert states(no_offset.read()) == [(*WHOLE, "unproved", None)]
    assert states(no_word.read()) == [(*WHOLE, "unproved", None)]


def test_exposed_by_each_of_its_reasons() -> None:
    # The protect booking holds from 10 (lead 20 before 30) to 60. 30: 0.05 s is over 1/25. 40: A2 stops.
    room = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 30, 60).ready(-5, "A1", "A2")
    room.log(30, "A2", "offset", value=-0.05).log(40, "A2", "stop")
    assert states(room.read()) == [
        (0, 10, "A1", "exposed", "none booked"),
        (10, 30, "A1", "unproved", None),
        (30, 40, "A1", "exposed", "out of step"),
        (40, 60, "A1", "exposed", "not good"),
        (60, 100, "A1", "exposed", "none booked"),
    ]


def test_the_offset_counts_only_since_both_last_locked() -> None:
    # A2 drops lock 30–35: not good, then good again but unmeasured until the offset at 50, which is exactly 1/25 s.
    room = pair().log(30, "A2", "unlock").log(35, "A2", "lock").log(50, "A2", "offset", value=0.04)
    reading = room.read()
    assert states(reading) == [
        (0, 30, "A1", "covered", None),
        (30, 35, "A1", "exposed", "not good"),
        (35, 50, "A1", "unproved", None),
        (50, 100, "A1", "covered", None),
    ]
    assert reading.cover_losses == {"A2": 1}
    assert reading.protect_us == {"A2": 80_000_000}  # 30 + 50 s


def test_standby_is_lost_and_belongs_to_no_machine() -> None:
    reading = pair().take(20, "A1", "standby").take(30, "standby", "A1").read()
    assert states(reading)[1] == (20, 30, "standby", "lost", None)
    assert [(i.machine, i.demand) for i in reading.interruptions] == [(None, False)]
    assert kinds(reading) == []  # there and back again is no switch


def test_a_machine_booked_to_another_is_elsewhere_and_no_switch() -> None:
    room = pair().book("C1", "protect", 0, 100, "T2").ready(-5, "C1").take(50, "A1", "C1").take(70, "C1", "A1")
    reading = room.read()
    assert states(reading)[1] == (50, 70, "C1", "exposed", "none booked")
    assert [s.elsewhere for s in reading.air] == [False, True, False]
    assert kinds(reading) == []


def test_a_machine_that_a_take_names_joins() -> None:
    # C1 is booked nowhere. From the start command at 30 it is of T1 but silent, A2 covers all the same; taken at 50.
    room = pair().take(30, None, "C1", action="start").ready(-5, "C1").take(50, "A1", "C1")
    reading = room.read()
    assert states(reading) == [(0, 50, "A1", "covered", None), (50, 100, "C1", "unproved", None)]
    assert kinds(reading) == [(50, "A1", "C1", "unexplained")]


def test_silence_of_a_machine_that_logs_alive() -> None:
    # A1's lines at −5, 2, 12 hold to 5, 12, 22; then not known until its line at 40; the one at 50 holds to the end.
    room = Tiny().book("A1", "air", 0, 60).ready(-5, "A1").log(2, "A1", "alive").log(12, "A1", "alive")
    room.log(40, "A1", "alive").log(50, "A1", "alive")
    assert [(s[0], s[1], s[3]) for s in states(room.read())] == [
        (0, 22, "exposed"), (22, 40, "unknown"), (40, 60, "exposed"),
    ]  # fmt: skip


def test_without_a_seen_roll_only_faults_are_proved() -> None:
    # Locks and returns prove nothing; the loss at 10 proves not good, its return at 20 takes that away again.
    room = Tiny().book("A1", "air", 0, 50).log(-5, "A1", "lock")
    room.log(10, "A1", "picture_lost").log(20, "A1", "picture_back").log(30, "A1", "stop").log(40, "A1", "lock")
    assert [(s[0], s[1], s[3]) for s in states(room.read())] == [
        (0, 10, "unknown"), (10, 20, "lost"), (20, 30, "unknown"), (30, 50, "lost"),
    ]  # fmt: skip


def test_a_roll_changes_nothing_unless_the_machine_was_long_unheard() -> None:
    # The second roll at 20 finds it rolling, heard 25 s before. At 90 it was last heard 70 s before: it starts afresh,
    # unlocked, so not good until the lock at 95. B1 never logs lock and is locked while it rolls.
    room = Tiny().book("A1", "air", 0, 100).ready(-5, "A1").log(20, "A1", "roll").log(90, "A1", "roll")
    room.log(95, "A1", "lock")
    assert [(s[0], s[1], s[3]) for s in states(room.read())] == [
        (0, 90, "exposed"), (90, 95, "lost"), (95, 100, "exposed"),
    ]  # fmt: skip
    plain = Tiny().book("B1", "air", 0, 100).log(-5, "B1", "roll")
    assert [s.state for s in plain.read().air] == ["exposed"]


@pytest.mark.parametrize(
    ("stopped", "lost"),
    [
        (94.5, 5.5),  # earlier than the last 5 s
        (95, 0),  # the last 5 s include their beginning
        (97, 0),
    ],
)
def test_a_stop_in_the_tail_ends_the_window(stopped: float, lost: float) -> None:
    reading = pair().log(stopped, "A1", "stop").read()
    assert sum(s.us for s in reading.air if s.state == "lost") == lost * 1e6
    assert sum(s.us for s in reading.air) == (100 if lost else stopped) * 1e6


def test_the_tail_wants_a_stop_or_a_planned_standby_that_lasts() -> None:
    assert states(pair().take(96, "A1", "standby", "planned").read())[-1][:2] == (0, 96)
    assert states(pair().take(96, "A1", "standby").read())[-1] == (96, 100, "standby", "lost", None)
    assert states(pair().log(96, "A1", "unlock").read())[-1] == (96, 100, "A1", "lost", None)
    back = pair().log(96, "A1", "stop").ready(98, "A1").read()  # back at 98: does not last
    assert states(back)[1] == (96, 98, "A1", "lost", None)
    cut = pair().log(96, "A1", "stop").read(until=98)  # the data end at 98: nobody knows that it lasts
    assert states(cut)[-1] == (96, 98, "A1", "lost", None)


def test_other_is_off_air_and_a_rescue_after_lost_air() -> None:
    reading = pair().log(30, "A1", "stop").take(34, "A1", "other").take(50, "other", "A2").read()
    assert [s[:4] for s in states(reading)] == [
        (0, 30, "A1", "covered"), (30, 34, "A1", "lost"), (50, 100, "A2", "exposed"),
    ]  # fmt: skip
    assert [(seconds(r.started), seconds(r.ended), r.machine) for r in reading.rescued] == [(34, 50, "A1")]
    assert reading.rescue_demands == ()  # the interruption that ends at 34 is a demand already
    assert [(i.met, i.healed, i.open) for i in reading.interruptions] == [(False, False, False)]


def test_other_by_a_fault_take_is_a_demand_and_without_reason_is_nothing() -> None:
    fault = pair().take(30, "A1", "other", "fault").take(50, "other", "A1").read()
    plain = pair().take(30, "A1", "other").take(50, "other", "A1").read()
    assert len(fault.rescue_demands) == 1
    assert fault.demands == 1
    assert (plain.rescued, plain.demands) == ((), 0)


def test_the_later_start_has_the_time() -> None:
    # T2 in 40–60 lies over T1 in 0–100: T1 keeps two pieces. A1 feeds T2 by nobody's take: B1 is air-booked.
    room = Tiny().book("A1", "air", 0, 100).book("B1", "air", 40, 60, "T2").ready(-5, "A1").ready(39, "B1")
    assert [(s.transmission, seconds(s.started), seconds(s.ended), s.feed) for s in room.read().air] == [
        ("T1", 0, 40, "A1"), ("T2", 40, 60, "B1"), ("T1", 60, 100, "A1"),
    ]  # fmt: skip


def test_the_data_end_cuts_the_window() -> None:
    assert states(pair().read(until=70)) == [(0, 70, "A1", "covered", None)]
    assert pair().read(until=70).overrun == ()


@pytest.mark.parametrize(
    ("taken", "feed"),
    [
        (-20, "A2"),  # lead_s old: counts
        (-21, "A1"),  # older: the air-booked machine
    ],
)
def test_the_feed_at_the_start_is_where_a_recent_take_left_it(taken: float, feed: str) -> None:
    assert pair().take(taken, None, "A2").read().air[0].feed == feed


def test_the_feed_stays_from_a_programme_just_before() -> None:
    # The take to A2 at 50 is 70 s old when T2 starts at 120, but lay inside T1, which ended 20 s before; A2 is of T2.
    room = pair().take(50, "A1", "A2").book("A1", "air", 120, 150, "T2").book("A2", "protect", 120, 150, "T2")
    assert [s.feed for s in room.read().air] == ["A1", "A2", "A2"]
    # One half second more and it is forgotten.
    room = pair().take(50, "A1", "A2").book("A1", "air", 120.5, 150, "T2").book("A2", "protect", 120, 150, "T2")
    assert [s.feed for s in room.read().air] == ["A1", "A2", "A1"]


def test_the_first_take_tells_what_fed_until_then() -> None:
    assert [s[:3] for s in states(pair().take(10, "A2", "A1").read())] == [(0, 10, "A2"), (10, 100, "A1")]


def test_feed_past_the_window_runs_over() -> None:
    # A1 good to its stop at 112; without the stop its last word at 70 carries it to 130; a take ends it at 105.
    def over(room: Tiny) -> list[tuple[float, float]]:
        return [(seconds(o.started), seconds(o.ended)) for o in room.read().overrun]

    assert over(pair().log(70, "A1", "alarm").log(112, "A1", "stop")) == [(100, 112)]
    assert over(pair().log(70, "A1", "alarm")) == [(100, 130)]
    assert over(pair().log(70, "A1", "alarm").take(105, "A1", "standby")) == [(100, 105)]
    assert over(pair()) == []  # its last word at −8 carries no further than 52
