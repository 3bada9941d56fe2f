"""Charts and adjustments against quality-control textbooks, Lucas's run lengths and Benjamini and Hochberg's paper."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from pipeline.statistics import benjamini_hochberg, poisson_cusum, u_chart

Agrees = Callable[..., None]
Array = NDArray[np.float64]

# Montgomery, Introduction to Statistical Quality Control, printed circuit boards (R qcc "circuit"): 26 samples of 100.
BOARDS = [21, 24, 16, 12, 15, 5, 28, 20, 31, 25, 20, 24, 16, 19, 10, 17, 13, 22, 18, 39, 30, 24, 16, 19, 17, 15]
# NIST/SEMATECH e-Handbook 6.3.3.1, defects on 25 wafers.
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
# Montgomery, 2nd ed. p. 181-182 (R qcc "pcmanufact"): 20 samples of 5 computers.
COMPUTERS = [10, 12, 8, 14, 10, 16, 11, 7, 10, 15, 9, 5, 7, 11, 12, 6, 8, 10, 7, 5]


def signals(counts: list[int], exposure: float) -> list[int]:
    """Numbers, from 1, of the samples outside their limits."""
    _, low, high = u_chart(counts, [exposure] * len(counts))
    rates = np.array(counts) / exposure
    return (np.flatnonzero((rates < low - 1e-12) | (rates > high + 1e-12)) + 1).tolist()


def test_centres_of_the_textbook_charts(agrees: Agrees) -> None:
    agrees(u_chart(BOARDS, np.ones(26))[0], "19.85", 19.84615385)
    agrees(u_chart(WAFERS, np.ones(25))[0], "16", 16.0)
    agrees(u_chart(COMPUTERS, np.full(20, 5.0))[0], "1.93", 1.93)
    kept = [count for sample, count in enumerate(BOARDS, start=1) if sample not in (6, 20)]
    agrees(u_chart(kept, np.ones(24))[0], "19.67", 19.66666667)


def test_the_same_samples_signal_as_in_the_textbooks() -> None:
    # Montgomery: samples 6 (5 defects) and 20 (39); NIST: one wafer, the 24th (31), is above its limit. The books use
    # three-sigma limits, ours are exact probability limits; both judge these alike, and no computer sample signals.
    assert signals(BOARDS, 1.0) == [6, 20]
    assert signals(WAFERS, 1.0) == [24]
    assert signals(COMPUTERS, 5.0) == []


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 60), st.floats(0.1, 50)), min_size=1, max_size=15))
def test_limits_leave_the_stated_tails(periods: list[tuple[int, float]]) -> None:
    counts, exposures = np.array([p[0] for p in periods]), np.array([p[1] for p in periods])
    centre, low, high = u_chart(counts, exposures)
    least, most, mean = np.round(low * exposures), np.round(high * exposures), centre * exposures
    # Beyond either limit lies at most 0.00135, and one count further in it would be more: scipy's Poisson law as judge.
    assert (stats.poisson.cdf(least - 1, mean) <= 0.00135 + 1e-12).all()
    assert (stats.poisson.cdf(least, mean) >= 0.00135 - 1e-12).all()
    assert (stats.poisson.sf(most, mean) <= 0.00135 + 1e-12).all()
    assert ((stats.poisson.sf(most - 1, mean) >= 0.00135 - 1e-12) | (most == 0)).all()


def test_a_period_without_exposure_has_no_limits() -> None:
    centre, low, high = u_chart([2, 0, 4], [10, 0, 20])
    assert centre == 0.2
    assert np.isnan([low[1], high[1]]).all()
    assert np.isfinite([low[0], high[2]]).all()


# Lucas (1985), Technometrics 27:129-144: k = (m_d - m_a) / (ln m_d - ln m_a).
@pytest.mark.parametrize(("good", "bad", "k"), [(4, 6, 4.932606925), (1, 2, 1.442695041), (0.25, 0.5, 0.3606737602)])
def test_reference_value(good: float, bad: float, k: float, agrees: Agrees) -> None:
    path, _ = poisson_cusum([10], [1], good, bad, h=100)
    agrees(10 - path[0], precise=k)


def test_path_by_hand_and_alarm_at_the_height_itself() -> None:
    # Rates 1 and e: k = e - 1. With exposure 1 / (e - 1) each period's reference is 1: 0, 1, 0, 2, then 1, 0 (not
    # below).
    exposure = np.full(6, 1 / (math.e - 1))
    path, alarms = poisson_cusum([1, 2, 0, 3, 0, 0], exposure, 1.0, math.e, h=2.0)
    assert path == pytest.approx([0, 1, 0, 2, 1, 0], abs=1e-12)
    assert alarms.tolist() == [False, False, False, True, False, False]


def test_no_reset_after_an_alarm() -> None:
    exposure = np.full(4, 1 / (math.e - 1))
    path, alarms = poisson_cusum([3, 3, 3, 0], exposure, 1.0, math.e, h=3.0)
    assert path == pytest.approx([2, 4, 6, 5])
    assert alarms.tolist() == [False, True, True, True]


def run_lengths(mean: float) -> Array:
    """Average run length from each path value 0, 0.25 ... 9.75, for k = 0.25 and h = 10: Markov chain, solved exactly.

    Every step of the chain is taken by poisson_cusum itself, led to the value by one count and some empty periods.
    """
    reference = 0.25 / 0.3606737602222409  # exposure that makes k(0.25, 0.5) = 0.25 / ln 2 a quarter a period
    stay = np.zeros((40, 40))
    for state in range(40):
        first = math.ceil((state + 1) / 4)
        lead = [first] + [0] * (4 * first - 1 - state)
        for count in range(11):  # 11 or more alarm from anywhere
            counts = [*lead, count]
            path, alarms = poisson_cusum(counts, np.full(len(counts), reference), 0.25, 0.5, h=10.0)
            if not alarms[-1]:
                stay[state, round(path[-1] * 4)] += stats.poisson.pmf(count, mean)
    return np.linalg.solve(np.eye(40) - stay, np.ones(40))


def test_average_run_lengths_of_lucas(agrees: Agrees) -> None:
    # Lucas (1985), Technometrics 27:129-144, Tables 2 and 3 (in the help of the CRAN package spc), alarm at S >= h: 438
    # from 0 and 333 from h/2 in control. At means 0.5 and 1 recomputed with spc. Alarm at S > h only would give more.
    in_control = run_lengths(0.25)
    agrees(in_control[0], "438", 438.1249995)
    agrees(in_control[20], "333", 333.1248085)
    agrees(run_lengths(0.5)[0], precise=39.91376827)
    agrees(run_lengths(1.0)[0], precise=14.15512638)


def test_benjamini_and_hochbergs_own_example(agrees: Agrees) -> None:
    # Benjamini and Hochberg (1995), JRSS B 57:289-300, sec. 4: 4 of 15 rejected at 0.05, Bonferroni 3; adjusted as in R
    # p.adjust.
    p = [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.324,
        0.4262,
        0.5719,
        0.6528,
        0.759,
        1.0,
    ]
    adjusted = benjamini_hochberg(p)
    assert (adjusted <= 0.05).sum() == 4
    for value, printed in zip(adjusted[:5], ["0.0015", "0.0030", "0.0095", "0.035625", "0.0603"], strict=True):
        agrees(value, printed)
    assert adjusted[5:9] == pytest.approx([0.06385714286, 0.06385714286, 0.0645, 0.0765], rel=1e-6)
    assert adjusted[-1] == 1.0
    assert benjamini_hochberg(p[::-1]).tolist() == adjusted[::-1].tolist()
    assert benjamini_hochberg([]).size == 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: u_chart([1], [0]), "exposures"),
        (lambda: u_chart([], []), "sum of exposures"),
        (lambda: u_chart([1.5], [1]), "whole"),
        (lambda: poisson_cusum([1], [1], 2, 1, 3), 'out_of_control is "1"; allowed is a rate above in_control, 2'),
        (lambda: poisson_cusum([1], [1], 0, 1, 3), "in_control"),
        (lambda: poisson_cusum([1], [1], 1, 2, 0), 'h is "0"'),
        (lambda: benjamini_hochberg([0.5, 1.1]), 'p_values is "1.1"; allowed is numbers from 0 to 1'),
        (lambda: benjamini_hochberg([-0.1]), "p_values"),
    ],
)
def test_wrong_input_is_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
