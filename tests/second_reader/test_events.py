"""The second reader's switches, demands and times to recover against cases worked by hand from the contract.

The room of `pair()`: A1 on air and A2 protect in 0–100, in step; lead 20, carry 60, tail 5 s, gap 1 s.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from tests.second_reader.recovery import Recovery
from tests.second_reader.tiny import Tiny, kinds, pair, seconds, states


def times(found: Sequence[Recovery]) -> list[tuple[float, bool, str | None]]:
    """Return (seconds, observed, machine)."""
    return [(r.us / 1e6, r.observed, r.machine) for r in found]


@pytest.mark.parametrize(
    ("reason", "kind"),
    [
        ("planned", "planned"), ("rehearsal", "planned"), ("return", "return"), ("precaution", "precaution"),
        ("fault", "forced"), (None, "unexplained"),
    ],
)  # fmt: skip
def test_a_stated_reason_decides(reason: str | None, kind: str) -> None:
    assert kinds(pair().take(50, "A1", "A2", reason).read()) == [(50, "A1", "A2", kind)]


def test_without_a_reason_not_good_is_forced_even_at_the_same_stamp() -> None:
    assert kinds(pair().log(50, "A1", "stop").take(50, "A1", "A2").read())[0][3] == "forced"
    assert kinds(pair().log(50.5, "A1", "stop").take(50, "A1", "A2").read())[0][3] == "unexplained"


@pytest.mark.parametrize(
    ("taken", "cleared", "kind"),
    [
        (40, None, "precaution"),
        (50, None, "precaution"),  # lead_s after the alarm: at most
        (50.5, None, "unexplained"),
        (40, "servo", "unexplained"),
        (40, "", "unexplained"),  # an empty clear clears all
        (40, "air", "precaution"),  # another alarm's clear
    ],
)
def test_an_open_alarm_is_a_precaution(taken: float, cleared: str | None, kind: str) -> None:
    room = pair().log(30, "A1", "alarm", detail="servo").take(taken, "A1", "A2")
    if cleared is not None:
        room.log(35, "A1", "clear", detail=cleared)
    assert kinds(room.read())[0][3] == kind


def test_back_to_the_air_booked_machine_is_a_return_when_both_are_good() -> None:
    room = pair().take(30, "A1", "A2", "planned").take(50, "A2", "A1")
    assert [k[3] for k in kinds(room.read())] == ["planned", "return"]
    room = pair().take(30, "A1", "A2", "planned").log(40, "A1", "stop").take(50, "A2", "A1")
    assert [k[3] for k in kinds(room.read())] == ["planned", "unexplained"]


def test_by_way_of_standby_is_one_switch_at_the_first_take() -> None:
    # The reason comes with the second take; the first is empty.
    room = pair().take(50, "A1", "standby").take(53, "standby", "A2", "fault")
    assert kinds(room.read()) == [(50, "A1", "A2", "forced")]
    # Two stated reasons: the first decides.
    room = pair().take(50, "A1", "standby", "planned").take(53, "standby", "A2", "fault")
    assert kinds(room.read()) == [(50, "A1", "A2", "planned")]
    assert kinds(pair().take(50, "A1", "other").take(53, "other", "A2", "fault").read()) == []


def test_between_transmissions_is_a_programme_change() -> None:
    # T1 on A1 ends at 50, T2 on B1 begins. The take comes late, at 52: A1 still feeds, from elsewhere; it was booked
    # to T1 until 50, 2 s before, so the take does not bring it into T2.
    room = Tiny().book("A1", "air", 0, 50).book("B1", "air", 50, 100, "T2").ready(-5, "A1").ready(45, "B1")
    reading = room.take(-1, None, "A1").take(52, "A1", "B1").read()
    assert kinds(reading) == []
    assert [(s.transmission, s.feed, s.elsewhere) for s in reading.air] == [
        ("T1", "A1", False), ("T2", "A1", True), ("T2", "B1", False),
    ]  # fmt: skip


def test_equal_takes_follow_each_other() -> None:
    # At 50 A1 → A2 and A2 → C1, given backwards: the feed ends on C1, and both are switches.
    reading = pair().ready(-5, "C1").take(50, "A2", "C1").take(50, "A1", "A2").read()
    assert kinds(reading) == [(50, "A1", "A2", "unexplained"), (50, "A2", "C1", "unexplained")]
    assert reading.air[-1].feed == "C1"


def test_a_demand_met_with_all_its_times() -> None:
    # A1 fails at 40, A2 taken at 43; A1 locks again at 60 and is measured at 65. Onset 40: to take 3, to air 3, and
    # covered again (A1 in step behind A2) 65 − 40 = 25 s.
    room = pair().log(40, "A1", "unlock").take(43, "A1", "A2").log(60, "A1", "lock")
    reading = room.log(65, "A1", "offset", value=0.01, detail="A2").read()
    assert [(i.demand, i.met, i.healed, i.unprotected, i.open) for i in reading.interruptions] == [
        (True, True, False, False, False)
    ]
    assert times(reading.to_take) == [(3, True, "A1")]
    assert times(reading.to_air) == [(3, True, "A1")]
    assert times(reading.to_cover) == [(25, True, "A1")]
    assert kinds(reading) == [(43, "A1", "A2", "forced")]


def test_cover_that_does_not_come_back_is_cut_short_at_the_end() -> None:
    reading = pair().log(40, "A1", "unlock").take(43, "A1", "A2").read()
    assert times(reading.to_cover) == [(60, False, "A1")]  # 100 − 40


def test_a_demand_healed_has_no_time_to_take() -> None:
    reading = pair().log(40, "A1", "picture_lost").log(42, "A1", "picture_back").read()
    assert [(i.met, i.healed) for i in reading.interruptions] == [(False, True)]
    assert times(reading.to_take) == []
    assert times(reading.to_air) == [(2, True, "A1")]
    assert times(reading.to_cover) == [(2, True, "A1")]  # locked all along: in step again at once


def test_a_demand_unprotected_that_runs_to_the_end() -> None:
    # Not good since the stop at −8, before the window: the demand begins with it, its onset 8 s earlier.
    reading = Tiny().book("A1", "air", 0, 50).ready(-15, "A1").log(-8, "A1", "stop").read()
    assert [(i.demand, i.met, i.healed, i.unprotected, i.open) for i in reading.interruptions] == [
        (True, False, False, True, True)
    ]
    assert times(reading.to_take) == [(58, False, "A1")]
    assert times(reading.to_air) == [(50, False, "A1")]
    assert times(reading.to_cover) == []  # not covered before


def test_not_met_by_a_machine_that_did_not_cover() -> None:
    # A2 never measured against A1: unproved before, so the take at 43 restores air but meets nothing.
    room = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 0, 100).ready(-5, "A1", "A2")
    reading = room.log(40, "A1", "stop").take(43, "A1", "A2").read()
    assert [(i.demand, i.met, i.healed) for i in reading.interruptions] == [(True, False, False)]


@pytest.mark.parametrize(("again", "count"), [(42.5, 1), (43, 2)])
def test_stretches_closer_than_the_gap_are_one(again: float, count: int) -> None:
    # Lost 40–42, then again for 2 s: 0.5 s between is closer than 1 s, 1 s is not.
    room = pair().log(40, "A1", "picture_lost").log(42, "A1", "picture_back")
    reading = room.log(again, "A1", "picture_lost").log(again + 2, "A1", "picture_back").read()
    assert len(reading.interruptions) == count
    assert sum(i.lost_us for i in reading.interruptions) == 4_000_000
    assert sum(r.us for r in reading.to_air) == (4_500_000 if count == 1 else 4_000_000)


def test_lost_air_joins_across_adjacent_windows() -> None:
    # A1 feeds both T1 (0–50) and T2 (50–100) and is not good 40–60, so one interruption of 20 s from 40.
    room = Tiny().book("A1", "air", 0, 50).book("A1", "air", 50, 100, "T2").ready(-5, "A1")
    reading = room.log(40, "A1", "unlock").log(60, "A1", "lock").read()
    assert [(seconds(i.started), seconds(i.ended), i.transmission, i.healed) for i in reading.interruptions] == [
        (40, 60, "T1", True)
    ]
    assert len(room.read(merge_gap_s=0.0).interruptions) == 1  # what touches is one even without a gap to bridge


def test_the_onset_of_a_precaution_is_its_alarm() -> None:
    reading = pair().log(30, "A1", "alarm", detail="servo").take(37, "A1", "A2").read()
    assert times(reading.to_take) == [(7, True, "A1")]
    assert times(reading.to_cover) == [(7, True, "A1")]  # A1 stays good and in step: covered from the take on
    assert reading.to_air == ()


def test_no_onset_is_counted() -> None:
    reading = pair().take(37, "A1", "A2").read()
    assert (reading.to_take, reading.to_cover, reading.no_onset) == ((), (), 1)


def test_an_interruption_on_standby_takes_the_machine_left_by_its_switch() -> None:
    # Slate 50–53 between A1 and A2, nothing wrong with A1 but an alarm at 45: to take 5 from the alarm, to air 3.
    room = pair().log(45, "A1", "alarm").take(50, "A1", "standby").take(53, "standby", "A2")
    reading = room.read()
    assert [(i.machine, i.demand) for i in reading.interruptions] == [(None, False)]
    assert times(reading.to_take) == [(5, True, "A1")]
    assert times(reading.to_air) == [(3, True, "A1")]
    assert kinds(reading) == [(50, "A1", "A2", "precaution")]


def test_cover_lost_counts_only_with_the_feed_unchanged_and_good() -> None:
    # 20: A2 unlocks (lost cover). 30: back and measured. 50: A1 fails: that is lost air, not lost cover.
    room = pair().log(20, "A2", "unlock").log(30, "A2", "lock").log(30, "A2", "offset", value=0.0, detail="A1")
    reading = room.log(50, "A1", "stop").take(50, "A1", "A2").read()
    assert reading.cover_losses == {"A2": 1}
    # The protect booking's end takes the machine away but it ran on in step: no loss of cover of its own.
    short = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 0, 60).ready(-10, "A1", "A2")
    reading = short.log(-8, "A1", "offset", value=0.02, detail="A2").read()
    assert states(reading)[1] == (60, 100, "A1", "exposed", "none booked")
    assert reading.cover_losses == {}
