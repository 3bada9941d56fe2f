"""Pairs that fail together: counted by hand, in rooms whose truth is known, and from the tables of a small room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pytest
from scipy import stats

from bench.coverage.together import simulate
from pipeline.measure.coincidences import WITHIN, Faults, Pair, coincidences
from pipeline.measure.intervals import Stretches
from pipeline.measure.transports.together.counts import PairCount, chain_numbers, count_pairs, machine_hours
from pipeline.measure.transports.together.measuring import LEVEL, judge_together, least_doubles, measure_together
from pipeline.measure.transports.together.outcomes import Year, cover, programmes, year
from pipeline.store import Store
from tests.measure.test_coincidences import found_in, onsets, stretch
from tests.measure.test_pattern_exposures import log
from tests.model.room_tables import open_memory
from tests.render.small_room import SETTINGS

AB: Pair = ("A", "B")
WHOLE = stretch((0, 1000))
# A fails alone at 100 and is back at 160. Both fail at 400 and 402; A is back at 410, B at 430. B fails at 700 for
# good; A fails once more at 800, when B is not good, and is back at 820.
RUNNING = {"A": stretch((0, 100), (160, 400), (410, 800), (820, 1000)), "B": stretch((0, 402), (430, 700))}
ONSETS = onsets(A=[100, 400, 800], B=[402, 700])


def faults(
    rows: Sequence[dict[str, Any]], running: Mapping[str, Stretches], together: Mapping[Pair, Stretches]
) -> Faults:
    whole = [{"what": "unlock", "within_s": 0.01, "reel": None, "incident": None, **row} for row in rows]
    return Faults(tuple(whole), running, together)


def pair() -> PairCount:
    (found,) = count_pairs(faults(ONSETS, RUNNING, {AB: WHOLE}))
    return found


def test_a_pair_by_hand() -> None:
    """Both ran well 0-100, 160-400 and 430-700. Only what began in that time counts: A at 100, B at 700, one double.

    With 2.5 s more at both ends, within the transmission's 1,000 s: 102.5 + 245 + 275 = 622.5 s. A ran well for
    100 + 240 + 390 + 180 = 910 s with three faults, B for 402 + 270 = 672 s with two.
    """
    found = pair()
    assert [(row["machine"], row["at_utc"].minute * 60 + row["at_utc"].second) for row in found.singles] == [
        ("A", 100), ("B", 700),
    ]  # fmt: skip
    assert [[row["machine"] for row in double] for double in found.doubles] == [["A", "B"]]
    assert found.shared_s == pytest.approx(622.5)
    assert found.expected == pytest.approx(3 / 910 * 2 / 672 * 10 * 622.5)
    assert found.p == pytest.approx(stats.poisson.sf(0, found.expected))


def test_waits_by_hand() -> None:
    """After A at 100 both ran well again at 160; after B at 700 never, to the end at 1,000. After the double, whose
    last fault was at 402, A was good at 410."""
    found = pair()
    assert found.waits == ((60.0, True), (300.0, False))
    assert found.neither_s == (8.0,)


def test_the_room_by_hand() -> None:
    """One double, two singles: β = 2 (1 − luck) / 4. Both ran well for 610 s, 1,220 s of machines, with 4 failures."""
    found = judge_together(faults(ONSETS, RUNNING, {AB: WHOLE}), {AB})
    room, luck = found["room"], 3 / 910 * 2 / 672 * 10 * 622.5
    assert (room["singles_count"], room["doubles_count"]) == (2, 1)
    assert room["share"]["value"] == pytest.approx((1 - luck) / 2)
    assert found["machine_h"] == pytest.approx(1220 / 3600)
    assert found["failures_per_1000_h"] == pytest.approx(1000 * 4 * 3600 / 1220)
    # The pair and the room are the same numbers; the others have no time, so two tests are made, and p stays as it is.
    assert found["comparisons"] == 2
    assert found["others"] is None
    assert room["adjusted_p"] == pytest.approx(room["p"])
    assert found["pairs"][0]["machines"] == ["A", "B"]
    assert found["named"] == ([["A", "B"]] if room["p"] < LEVEL else [])


def test_faults_of_one_machine_in_a_row_are_one() -> None:
    """500, 504 and 508 on A: each within 5 s of the one before. 520 is another."""
    running = {"A": stretch((0, 500), (502, 504), (506, 508), (510, 520), (530, 1000)), "B": WHOLE}
    (found,) = count_pairs(faults(onsets(A=[500, 504, 508, 520]), running, {AB: WHOLE}))
    assert [row["at_utc"].second + 60 * row["at_utc"].minute for row in found.singles] == [500, 520]


def test_a_fault_that_leaves_the_machine_good_ends_no_time() -> None:
    """A switch in good time at 300: a single, but both ran on, so there is nothing to wait for."""
    (found,) = count_pairs(faults(onsets(A=[300]), {"A": WHOLE, "B": WHOLE}, {AB: WHOLE}))
    assert (len(found.singles), found.waits) == (1, ())


def test_three_machines_of_one_transmission() -> None:
    """All three fail at 100, 101 and 102: one double of the room, one of each two. A alone at 500: one single.

    Failures: 3 + 1. Each machine's time beside any other is counted once.
    """
    running = {
        "A": stretch((0, 100), (110, 500), (510, 1000)), "B": stretch((0, 101), (111, 1000)),
        "C": stretch((0, 102), (112, 1000)),
    }  # fmt: skip
    twos = {("A", "B"): WHOLE, ("A", "C"): WHOLE, ("B", "C"): WHOLE}
    found = judge_together(faults(onsets(A=[100, 500], B=[101], C=[102]), running, twos), {AB})
    assert (found["room"]["singles_count"], found["room"]["doubles_count"], found["failures_count"]) == (1, 1, 4)
    assert [(row["singles_count"], row["doubles_count"]) for row in found["pairs"]] == [(1, 1)]
    assert (found["others"]["pairs_count"], found["others"]["singles_count"], found["others"]["doubles_count"]) == (
        2, 1, 1,
    )  # fmt: skip
    # A beside B or C: 0-100, then B from 111: 111-500, 510-1,000 = 979 s. B beside A or C: 0-101 (C), 111-1,000 = 990.
    # C: 0-101 (B), 112-1,000 = 989.
    assert found["machine_h"] == pytest.approx((979 + 990 + 989) / 3600)
    (double,) = found["doubles"]
    assert (double["machines"], double["apart_s"], double["elsewhere"]) == (["A", "B", "C"], 2.0, [])


def test_what_strikes_the_room_strikes_the_pair() -> None:
    """A, B and D fail together, D of another transmission: there it is of the room, here a double of A and B."""
    rows = onsets(A=[300], B=[301], D=[302])
    running = {"A": WHOLE, "B": WHOLE, "D": WHOLE}
    found = judge_together(faults(rows, running, {AB: WHOLE}), {AB})
    assert found["room"]["doubles_count"] == 1
    assert found["doubles"][0]["elsewhere"] == ["D"]
    assert coincidences(rows, running, {AB: WHOLE}).tests[0].count == 0


def test_a_recording_counts_once_and_names_no_pair_that_only_played_it() -> None:
    """A and B fail at 100 and 500 with reel K1, and at 700 with K2; C and D only at 300 with K1. Four doubles, of two
    recordings. C and D have nothing of their own; A and B have K2."""
    rows = [{**row, "what": "picture lost", "reel": reel} for row, reel in zip(
        onsets(A=[100, 500, 700], B=[100, 500, 700], C=[300], D=[300]), ["K1", "K1", "K2"] * 2 + ["K1"] * 2,
        strict=True,
    )]  # fmt: skip
    pairs = {AB: WHOLE, ("C", "D"): WHOLE}
    found = judge_together(faults(rows, dict.fromkeys("ABCD", WHOLE), pairs), set(pairs))
    assert (found["room"]["doubles_count"], found["room"]["doubles_once_count"]) == (4, 2)
    assert [row["reels_elsewhere"] for row in found["pairs"]] == [None, ["K1"]]
    assert all(row["adjusted_p"] < LEVEL for row in found["pairs"])
    assert found["named"] == [["A", "B"]]


def test_luck_is_that_of_the_other_page() -> None:
    """Summed over all pairs, luck and hours are those of coincidences between machines of one transmission."""
    running = {"A": stretch((0, 600)), "B": stretch((100, 900)), "C": stretch((50, 400), (500, 800)), "D": WHOLE}
    twos = {("A", "B"): stretch((0, 500)), ("A", "C"): stretch((200, 700)), ("C", "D"): WHOLE}
    rows = onsets(A=[600], B=[900], C=[400, 800], D=[30, 650])
    room = judge_together(faults(rows, running, twos), set())["room"]
    test = next(one for one in coincidences(rows, running, twos).tests if one.kind == WITHIN)
    assert (room["expected"], room["shared_s"]) == pytest.approx((test.expected, test.shared_s))


@pytest.mark.parametrize(
    ("apart", "what", "is_same"), [(0.4, "picture lost", True), (0.4, "unlock", False), (1.0, "picture lost", False)]
)
def test_the_same_spot_of_both_copies(apart: float, what: str, is_same: bool) -> None:
    """As on an incident's page: picture or sound, at most 0.5 s apart and what both clocks leave open (0.01 s each)."""
    rows = [{**row, "what": what} for row in onsets(A=[300], B=[300 + apart])]
    (double,) = judge_together(faults(rows, {"A": WHOLE, "B": WHOLE}, {AB: WHOLE}), {AB})["doubles"]
    assert double["is_same_spot"] is is_same
    assert double["within_s"] == pytest.approx(0.02)


def test_nothing_together_is_said_as_not_known() -> None:
    found = judge_together(faults(onsets(A=[100]), {"A": WHOLE}, {AB: WHOLE}), {AB})
    assert (found["room"]["p"], found["room"]["share"]["value"], found["comparisons"]) == (None, None, 0)
    assert (found["programmes"], found["year"], found["failures_per_1000_h"]) == ([], None, None)
    empty = judge_together(faults([], {}, {}), set())
    assert (empty["pairs"], empty["doubles"], empty["room"]["is_named"]) == ([], [], False)


def test_no_fault_in_hours_together() -> None:
    found = judge_together(faults([], {"A": WHOLE, "B": WHOLE}, {AB: WHOLE}), {AB})
    assert (found["room"]["p"], found["room"]["share"]["value"]) == (1.0, None)
    assert (found["failures_per_1000_h"], found["programmes"]) == (0.0, [])


def test_the_least_doubles_called_more_than_luck() -> None:
    # P(N >= 1 | 0.01) = 0.00995, P(N >= 2 | 0.01) = 0.0000497.
    assert (least_doubles(0.01, 0.05), least_doubles(0.01, 0.0099), least_doubles(0.0, 0.05)) == (1, 2, 1)


def test_numbers_of_events_chain_across_machines() -> None:
    """0, 5 and 9 chain; 14.1 is 5.1 s later. Places in time give the numbers' order."""
    numbers = chain_numbers(onsets(A=[9, 0], B=[5, 14.1]))
    assert [number for _, number in sorted(numbers.items(), key=lambda item: item[0][1])][:3] == [0, 0, 0]
    assert len(set(numbers.values())) == 2


def test_machine_hours_count_an_hour_once() -> None:
    found = count_pairs(faults([], {"A": WHOLE, "B": WHOLE, "C": WHOLE}, {AB: WHOLE, ("A", "C"): stretch((500, 1500))}))
    # A beside B or C 0-1,000; B 0-1,000; C 500-1,000.
    assert machine_hours(found) == pytest.approx(2500 / 3600)


def test_a_programme_by_hand() -> None:
    """0.01 failures/h, 30 min, 5 % shared: 2.5e-5 apart, 2.5e-4 shared and a little more; one machine 0.005."""
    rows = programmes(0.01, {"value": 0.05, "low": 0.0, "high": 1.0}, None)
    first = rows[0]
    assert (first["minutes"], first["returns"], len(rows)) == (30, False, 3)
    assert first["alone"] == pytest.approx(-math.expm1(-0.005))
    assert first["apart"] == pytest.approx(2.4875e-5, rel=1e-3)
    assert first["together"]["value"] == pytest.approx(2.5e-4 + 0.00475**2, rel=3e-3)
    assert (first["together"]["low"], first["together"]["high"]) == pytest.approx((first["apart"], first["alone"]))
    assert [row["returns"] for row in programmes(0.01, {"value": 0.05}, 0.2)[:2]] == [True, False]


def test_a_year_by_hand() -> None:
    """λ = 0.001/h, 10 h to come back, 5 % shared, 2,000 h: IEC-style model, 0.00034074 of the time with neither."""
    found = year(0.001, {"value": 0.05, "low": 0.0, "high": 0.1}, 10.0, Year(2000.0, 120.0))
    assert found is not None
    assert found["alone_s"] == pytest.approx(2000 * 3600 * (1 - 0.9900990099))
    assert found["apart_s"] == pytest.approx(2000 * 3600 * 9.802960494e-05)
    assert found["together_s"]["value"] == pytest.approx(2000 * 3600 * 0.0003407372181)
    assert found["together_s"]["high"] == pytest.approx(2000 * 3600 * 0.000583565043)
    # Lost as often as it comes back from neither, at 2 · 0.1 per hour.
    assert found["losses_count"]["value"] == pytest.approx(2000 * 0.2 * 0.0003407372181)
    assert year(0.001, {"value": 0.05}, None, Year(1.0, 0.0)) is None


def test_time_to_return_by_hand() -> None:
    """60 s and back, 300 s cut short: 360 s for one return; limits 2 · 360 / χ²(0.975; 4) and / χ²(0.025; 2)."""
    back = cover([(60.0, True), (300.0, False)])["back_s"]
    assert back["value"] == 360.0
    limits = (720 / stats.chi2.ppf(0.975, 4), 720 / stats.chi2.ppf(0.025, 2))
    assert (back["low"], back["high"]) == pytest.approx(limits)
    assert cover([(300.0, False)])["back_s"]["value"] is None


def test_rooms_whose_truth_is_known() -> None:
    """A smaller run of the benchmark with another seed: limits hold, rooms that fail apart are left alone."""
    claims = simulate(60, 8)
    assert [claim.what for claim in claims if not claim.holds] == []


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def test_from_the_tables(store: Store) -> None:
    """A1 and A2 lose the picture 0.5 s apart at 10:20 (see the test of coincidences), and A2 alone its lock at 10:40.

    Both ran well, and were of one transmission, from 09:59:04 to 10:20:00, from 10:20:03.5 to 10:40:00 and from
    10:40:30 to 11:00. They are the one registered pair.
    """
    found_in(store, [
        log("10:20:00", "A1", "picture_lost"), log("10:20:00.5", "A2", "picture_lost"),
        log("10:20:03", "A1", "picture_back"), log("10:20:03.5", "A2", "picture_back"),
        log("10:40:00", "A2", "unlock"), log("10:40:30", "A2", "lock"),
    ])  # fmt: skip
    found = measure_together(store, SETTINGS, {})
    assert ([row["machines"] for row in found["pairs"]], found["others"]) == ([["A1", "A2"]], None)
    assert (found["room"]["singles_count"], found["room"]["doubles_count"]) == (1, 1)
    assert found["machine_h"] == pytest.approx(2 * (1256 + 1196.5 + 1170) / 3600)
    assert found["cover"]["back_s"]["value"] == pytest.approx(30.0)
    (double,) = found["doubles"]
    assert (double["at"], double["reels"], double["incidents"]) == (
        "2031-03-09T10:20:00Z", ["K1", "K2"], ["20310309-102000-one"],
    )  # fmt: skip
    # Neither was good from 10:20:00.5 to 10:20:03.
    assert (double["neither_s"], double["is_same_spot"], double["apart_s"]) == (pytest.approx(2.5), True, 0.5)
