"""Faults that begin together: what counts as one by hand, luck in closed form, rooms of pure luck, planted causes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy import stats

from pipeline.measure.coincidences import (
    ACROSS,
    COINCIDENCE_S,
    WITHIN,
    Coincidences,
    chance_of_pairs,
    coincidences,
    find_coincidences,
)
from pipeline.measure.intervals import Stretches, joined
from pipeline.model import build_models
from pipeline.store import Store
from tests.measure.test_pattern_exposures import at, booked, log
from tests.model.room_tables import fill_store, open_memory
from tests.second_reader.sites import Room

BASE = datetime(2031, 3, 1)  # noqa: DTZ001 - rows carry naive UTC
BASE_S = 1_930_089_600  # 2031-03-01 00:00 UTC in seconds since 1970


def stretch(*seconds: tuple[float, float]) -> Stretches:
    """Stretches in seconds from the base."""
    edges = np.array([[BASE_S + begin, BASE_S + end] for begin, end in seconds]) * 1_000_000
    return joined(edges[:, 0].astype(np.int64), edges[:, 1].astype(np.int64))


def onsets(**seconds: Sequence[float]) -> list[dict[str, Any]]:
    return [
        {"machine": machine, "at_utc": BASE + timedelta(seconds=float(second))}
        for machine, times in seconds.items()
        for second in times
    ]


def test_the_base_is_what_it_says() -> None:
    assert (BASE - datetime(1970, 1, 1)).total_seconds() == BASE_S  # noqa: DTZ001


def test_luck_in_closed_form() -> None:
    """A runs for an hour and fails four times, B runs the last half hour of it and one more hour and fails six times.

    Rates 4/3600 and 6/5400. Both run for 1,800 s, with 2.5 s more at both ends 1,805 s. Expected pairs within 5 s:
    (4/3600) (6/5400) · 10 · 1,805 = 0.022284. For 600 s of them both are of one transmission.
    """
    running = {"A": stretch((0, 3600)), "B": stretch((1800, 7200))}
    expected, shared = chance_of_pairs({"A": 4, "B": 6}, running, {("A", "B"): stretch((2000, 2600))})
    assert shared == pytest.approx({WITHIN: 600.0, ACROSS: 1205.0})
    whole = 4 / 3600 * 6 / 5400 * 10
    assert expected == pytest.approx({WITHIN: whole * 600, ACROSS: whole * 1205})


def test_a_machine_that_never_ran_brings_no_luck() -> None:
    running = {"A": stretch((0, 3600)), "B": stretch((5, 5))}
    expected, shared = chance_of_pairs({"A": 4}, running, {})
    assert (sum(expected.values()), sum(shared.values())) == (0.0, 0.0)
    assert [test.p for test in coincidences([], running, {}).tests] == [None, None]


def test_chains_windows_and_kinds() -> None:
    """By hand, window 5 s inclusive, A and B of one transmission throughout, C of another:

    10 A and 15 B: together, of one transmission. 100 A, 104 B, 108.9 C: a chain of three, A and C share only the room.
    200 A and 205.001 C: too far apart. 300 A and 301 A: one machine alone. 400 B and 400 C: the room.
    """
    everywhere = stretch((0, 1000))
    running = dict.fromkeys("ABC", everywhere)
    found = coincidences(
        onsets(A=[10, 100, 200, 300, 301], B=[15, 104, 400], C=[108.9, 205.001, 400]),
        running,
        {("A", "B"): everywhere},
    )
    told = [(kind, [row["machine"] for row in members]) for kind, members in found.clusters]
    assert told == [(WITHIN, ["A", "B"]), (ACROSS, ["A", "B", "C"]), (ACROSS, ["B", "C"])]
    within, across = found.tests
    assert (within.count, across.count) == (1, 2)
    # 1,005 s with 2.5 s more at both ends. A and B are of one transmission for 1,000 s of them:
    # 5 · 3 / 1000² · 10 · 1,000 = 0.15. The other 5 s, and A and C with 5 · 3, B and C with 3 · 3 onsets:
    # 0.00075 + 0.15075 + 0.09045 = 0.24195.
    assert (within.expected, across.expected) == pytest.approx((0.15, 0.24195))
    assert within.p == pytest.approx(stats.poisson.sf(0, 0.15))
    assert across.p == pytest.approx(stats.poisson.sf(1, 0.24195))


HORIZON = 200_000.0
ROOMS = 400


def by_luck(draw: np.random.Generator, planted: Sequence[float] = ()) -> Coincidences:
    """Four machines that always run and fail independently at steady rates; planted: A and C fail together too."""
    means = {"A": 40, "B": 90, "C": 60, "D": 30}
    times = {name: draw.uniform(10, HORIZON - 10, draw.poisson(mean)) for name, mean in means.items()}
    for name in "AC":
        times[name] = np.append(times[name], [second + draw.uniform(0, 2) for second in planted])
    everywhere = stretch((0, HORIZON))
    together = {("A", "B"): everywhere, ("C", "D"): everywhere}
    return coincidences(onsets(**times), dict.fromkeys("ABCD", everywhere), together)


def test_in_rooms_of_pure_luck_the_chance_is_what_it_says() -> None:
    """400 rooms: p below 0.05 in at most one of twenty, and on average no more clusters than expected.

    A and B: 40 · 90 / 200,000² · 10 · 200,000 = 0.18, C and D 0.09: 0.27 within. Across A C, A D, B C, B D: 0.555. A
    chain of three onsets is one cluster and two or three pairs, so the mean may fall short of it by a little.
    """
    draw = np.random.default_rng(5)
    rooms = [by_luck(draw).tests for _ in range(ROOMS)]
    most = stats.binom.ppf(0.999, ROOMS, 0.05)
    for place, mean in ((0, 0.27), (1, 0.555)):
        assert sum(tests[place].p < 0.05 for tests in rooms if tests[place].p is not None) <= most
        seen = sum(tests[place].count for tests in rooms)
        assert stats.poisson.cdf(seen, ROOMS * mean) > 0.001
        assert stats.poisson.sf(seen - 1, ROOMS * mean) > 0.001
        assert np.mean([tests[place].expected for tests in rooms]) == pytest.approx(mean, rel=0.05)


def test_planted_coincidences_are_found() -> None:
    """Six common faults on A and C, of different transmissions: every one is in a cluster, and chance is ruled out."""
    draw = np.random.default_rng(6)
    planted = [20_000.0 * number + 500.0 for number in range(1, 7)]
    for _ in range(50):
        found = by_luck(draw, planted)
        for second in planted:
            moment = BASE + timedelta(seconds=second)
            assert any(
                kind == ACROSS
                and {"A", "C"} <= {row["machine"] for row in members}
                and any(abs((row["at_utc"] - moment).total_seconds()) <= COINCIDENCE_S for row in members)
                for kind, members in found.clusters
            )
        # Expected are at most a good 0.8 with the planted onsets among the rates; P(N >= 6 | 0.8) = 0.0002.
        assert found.tests[1].p is not None
        assert found.tests[1].p < 0.001


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def found_in(store: Store, events: Sequence[dict[str, Any]], switches: Sequence[dict[str, Any]] = ()) -> Coincidences:
    """An hour: A1 on air and A2 behind it on ONE, C1 on air alone on TWO; all roll at 09:59 and lock 4 s later."""
    ready = [
        row
        for machine in ("A1", "A2", "C1")
        for row in (log("09:59:00", machine, "roll"), log("09:59:04", machine, "lock"))
    ]
    other = {**booked(3, "C1", "air", None, "10:00", "11:00"), "transmission": "TY", "channel": "TWO"}
    room = Room(
        settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
        events=(*ready, log("09:59:30", "A1", "offset", "A2", 0.01), *events, log("11:30", "A1", "hours", None, 1.0)),
        switches=tuple(switches),
        bookings=(
            booked(1, "A1", "air", "K1", "10:00", "11:00"), booked(2, "A2", "protect", "K2", "10:00", "11:00"), other,
        ),
        machines=({"machine": "A1", "pair": "P1"}, {"machine": "A2", "pair": "P1"}),
    )  # fmt: skip
    fill_store(store, room)
    build_models(store)
    return find_coincidences(store)


def told(found: Coincidences) -> list[tuple[str, list[str]]]:
    return [(kind, [f"{row['machine']} {row['what']}" for row in members]) for kind, members in found.clusters]


def test_a_start_up_is_no_fault(store: Store) -> None:
    """All three come up in the same second and lock in the same second, and stop together: nothing began together."""
    stops = [log("11:00:01", machine, "stop") for machine in ("A1", "A2", "C1")]
    assert told(found_in(store, stops)) == []


def test_both_copies_at_once_and_the_incident_it_made(store: Store) -> None:
    """A1 on air and A2 behind it lose the picture 0.5 s apart; both come back by themselves."""
    dips = [
        log("10:20:00", "A1", "picture_lost"), log("10:20:00.5", "A2", "picture_lost"),
        log("10:20:03", "A1", "picture_back"), log("10:20:03.5", "A2", "picture_back"),
    ]  # fmt: skip
    found = found_in(store, dips)
    assert told(found) == [(WITHIN, ["A1 picture lost", "A2 picture lost"])]
    ((_, (first, second)),) = found.clusters
    assert (first["incident"], second["incident"]) == ("20310309-102000-one", None)
    assert (first["reel"], second["reel"]) == ("K1", "K2")
    # A1 and A2 ran well from 09:59:04 to 10:20:00 (A2 half a second longer) and from 10:20:03 (10:20:03.5) to where the
    # data end, 11:30: 5,453 s each. C1 to 11:30 too, in which nothing began. Both ran, 2.5 s longer at both ends, from
    # 09:59:01.5 to 10:20:02.5 and from 10:20:01 on, so without a gap to 11:30:02.5: 5,461 s. Of one transmission they
    # are from 09:50 to 11:00: 3,658.5 s of it.
    within, across = found.tests
    assert within.shared_s == pytest.approx(3658.5)
    assert within.expected == pytest.approx(1 / 5453 * 1 / 5453 * 10 * 3658.5)
    assert across.expected == pytest.approx(1 / 5453 * 1 / 5453 * 10 * (5461 - 3658.5))
    assert within.p == pytest.approx(stats.poisson.sf(0, within.expected))


def test_machines_that_share_only_the_room(store: Store) -> None:
    """The protect of ONE and the machine on air on TWO lose lock together: no transmission is common to them."""
    found = found_in(store, [log("10:30:00", "A2", "unlock"), log("10:30:04.9", "C1", "unlock")])
    assert told(found) == [(ACROSS, ["A2 unlock", "C1 unlock"])]
    assert found.table()["incident"].to_list() == [None, "20310309-103004-two"]
    assert found.table()["cluster_no"].to_list() == [1, 1]


def test_a_stop_counts_on_air_and_not_away_from_it(store: Store) -> None:
    """A1 on air, A2 behind it and C1 on air stop together: A2's stop may be a hand's, the others cost air."""
    found = found_in(store, [log("10:40:00", machine, "stop") for machine in ("A1", "A2", "C1")])
    assert told(found) == [(ACROSS, ["A1 interruption", "C1 interruption"])]


def test_a_switch_counts_at_its_alarm_or_at_its_take(store: Store) -> None:
    """A1 raises an alarm at 10:15:00 and is left at 10:15:20 in good time; C1 loses its sound at 10:15:03."""
    take = {"at": at("10:15:20"), "action": "take", "channel": "ONE", "from_machine": "A1", "to_machine": "A2"}
    lost = log("10:15:03", "C1", "sound_lost")
    found = found_in(store, [log("10:15:00", "A1", "alarm", "vacuum"), lost], [{**take, "reason": None}])
    assert told(found) == [(ACROSS, ["A1 alarm", "C1 sound lost"])]
    # Without the alarm the switch stands at its take, 17 s after the sound was lost.
    assert told(found_in(store, [lost], [{**take, "reason": "precaution"}])) == []
    near = {**take, "at": at("10:15:05"), "reason": "precaution"}
    assert told(found_in(store, [lost], [near])) == [(ACROSS, ["C1 sound lost", "A1 precaution switch"])]


def test_machines_that_never_came_up_did_not_fail_together(store: Store) -> None:
    """A1 and C1 stop before air and stand still when both programmes begin at 10:00: that is no moment of their own."""
    stops = [log("09:59:40", "A1", "stop"), log("09:59:50", "C1", "stop")]
    found = found_in(store, stops)
    assert store.value("select count(*) from core_recoveries where started_at_utc = '2031-03-09 10:00'") == 2
    assert told(found) == []
