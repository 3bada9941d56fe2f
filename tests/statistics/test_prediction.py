"""Prediction limits against their closed forms, the binomial law, and every count there can be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from pipeline.statistics import (
    forecast_power_law,
    forecast_steady,
    poisson_prediction_limits,
    power_law_prediction_limits,
)

# Kaminskiy and Krivtsov (2010), as shipped with surpyval (load_g1_kaminskiy_krivtsov): one system's failure times.
TIMES = [3, 9, 20, 25, 41, 50, 69, 91, 128, 151, 182, 227]


def test_no_event_seen_has_a_closed_form() -> None:
    # P(Y >= y | Y = y in all) = q^y, q = future / (exposure + future). Equal exposures: 0.5^5 = 0.031 > 0.025 and
    # 0.5^6 = 0.016, so up to 5. Half as much to come: q = 1/3, (1/3)^3 = 0.037, (1/3)^4 = 0.012, so up to 3.
    assert poisson_prediction_limits(0, 1.0, 1.0) == (0, 5)
    assert poisson_prediction_limits(0, 100.0, 50.0) == (0, 3)
    assert poisson_prediction_limits(7, 10.0, 0.0) == (0, 0)


def test_shutdowns_of_next_year() -> None:
    # 24 events in 5 years, one year to come, 90 %: given the sum, Y is binomial with share 1/6. By hand:
    # low: P(Y <= 0 | 24) = (5/6)^24 = 0.0126 <= 0.05; P(Y <= 1 | 25) = (5/6)^25 + 25/6 (5/6)^24 = 0.0105 + 0.0524 =
    # 0.0629 > 0.05, so 1. High by scipy's binomial law below.
    low, high = poisson_prediction_limits(24, 5.0, 1.0, 0.9)
    assert low == 1
    assert stats.binom.sf(high - 1, 24 + high, 1 / 6) > 0.05 >= stats.binom.sf(high, 25 + high, 1 / 6)


@pytest.mark.parametrize(("count", "future"), [(0, 0.3), (1, 4.0), (5, 1.0), (13, 4.1), (60, 0.5)])
def test_limits_are_the_last_counts_that_the_binomial_law_keeps(count: int, future: float) -> None:
    low, high = poisson_prediction_limits(count, 1.0, future)
    share = future / (1.0 + future)
    kept = [
        y
        for y in range(1500)
        if stats.binom.cdf(y, count + y, share) > 0.025 and stats.binom.sf(y - 1, count + y, share) > 0.025
    ]
    assert (low, high) == (kept[0], kept[-1])
    assert kept == list(range(low, high + 1))


@pytest.mark.parametrize("mean", [0.1, 0.7, 2.0, 5.0, 12.0])
@pytest.mark.parametrize("future", [0.5, 1.0, 4.0])
def test_coverage_is_kept_at_every_rate(mean: float, future: float) -> None:
    # Every pair of counts, weighed by its Poisson probability: no simulation.
    covered = 0.0
    for seen in range(int(stats.poisson.isf(1e-9, mean)) + 1):
        low, high = poisson_prediction_limits(seen, 1.0, future)
        inside = stats.poisson.cdf(high, mean * future) - stats.poisson.cdf(low - 1, mean * future)
        covered += stats.poisson.pmf(seen, mean) * inside
    assert covered >= 0.95 - 1e-6


def test_no_failure_to_come_of_a_power_law_has_a_closed_form() -> None:
    # P(no event) = E[(1 + odds)^-r] = E[exp(-r beta L)] with beta ~ Gamma(n) / S: (1 + r L / S)^-n, L = ln(1 + f / T).
    end, future = 250.0, 100.0
    log_sum, step, n = sum(math.log(end / t) for t in TIMES), math.log1p(future / end), len(TIMES)
    law = forecast_power_law(TIMES, end, future)
    for shape in (n, n + 1):
        assert 1.0 - law.at_least(1, shape) == pytest.approx((1.0 + shape * step / log_sum) ** -n, rel=1e-4)


def test_a_power_law_with_a_thousand_even_failures_is_a_steady_rate() -> None:
    # Ages so even that beta is 1 to a few percent; the steady limits for 1,000 events and 1/10 of the time are
    # 100 -+ 1.96 sqrt(100 + 10) = 79 to 121. The power law adds its doubt about beta, sd of the mean 100 / sqrt(1000).
    times = (np.arange(1000) + 0.5) / 1000.0
    low, high = power_law_prediction_limits(times, 1.0, 0.1)
    steady_low, steady_high = poisson_prediction_limits(1000, 1.0, 0.1)
    assert low == pytest.approx(steady_low, abs=3)
    assert high == pytest.approx(steady_high, abs=3)


@pytest.mark.parametrize("beta", [0.7, 1.5])
def test_coverage_of_power_law_limits(beta: float) -> None:
    draw, rooms, inside = np.random.default_rng(20310309), 400, 0
    for _ in range(rooms):
        times = draw.uniform(0, 1, max(draw.poisson(15), 2)) ** (1 / beta)
        low, high = power_law_prediction_limits(times, 1.0, 1.0)
        inside += low <= draw.poisson(15 * (2**beta - 1)) <= high
    assert inside / rooms >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / rooms)


def test_a_sum_of_losses_of_one_is_the_count() -> None:
    law = forecast_steady(9, 1.0, 2.0)
    assert law.total_limits([1.0, 1.0, 1.0]) == pytest.approx(law.limits(), abs=0.05)  # a step of the grid
    assert law.total_limits([0.0, 0.0]) == (0.0, 0.0)


def test_losses_of_which_half_are_nothing_thin_the_count() -> None:
    # Each event costs 2 or nothing alike: the count of costly ones is negative binomial with half the odds, shape 9 for
    # the low limit and 10 for the high one (scipy's law), and the sum twice that. So many losses leave no doubt of
    # their mean.
    low, high = forecast_steady(9, 1.0, 4.0).total_limits(np.tile([0.0, 2.0], 100_000))
    assert low == pytest.approx(2 * stats.nbinom.ppf(0.025, 9, 1 / 3), rel=0.01)
    assert high == pytest.approx(2 * stats.nbinom.ppf(0.975, 10, 1 / 3), rel=0.01)


def test_few_losses_leave_more_doubt_than_many() -> None:
    law = forecast_steady(9, 1.0, 4.0)
    few, many = law.total_limits([0.0, 2.0, 10.0]), law.total_limits([0.0, 2.0, 10.0] * 50)
    assert few[0] < many[0] < many[1] < few[1]


def test_no_event_and_nothing_to_come() -> None:
    assert forecast_steady(0, 1.0, 1.0).total_limits([3.0, 5.0])[0] == 0.0
    assert forecast_steady(4, 1.0, 0.0).total_limits([3.0, 5.0]) == (0.0, 0.0)


def test_a_curve_too_steep_to_carry_on_still_has_limits() -> None:
    law = forecast_power_law([99.0, 99.5, 99.6, 99.9], 100.0, 400.0)
    low, high = law.total_limits([1.0, 2.0, 3.0])
    assert 4 < law.limits()[0] < law.limits()[1] <= 2**40
    assert 0.0 < low < high < math.inf


def test_refused() -> None:
    with pytest.raises(ValueError, match=r'count is "1\.5"'):
        poisson_prediction_limits(1.5, 1.0, 1.0)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="exposure"):
        poisson_prediction_limits(1, 0.0, 1.0)
    with pytest.raises(ValueError, match='future_exposure is "-1"'):
        poisson_prediction_limits(1, 1.0, -1)
    with pytest.raises(ValueError, match='future is "-1"'):
        power_law_prediction_limits([1.0], 2.0, -1)
    with pytest.raises(ValueError, match="before the end"):
        power_law_prediction_limits([2.0], 2.0, 1.0)
    with pytest.raises(ValueError, match="2 or more"):
        forecast_steady(1, 1.0, 1.0).total_limits([1.0])
