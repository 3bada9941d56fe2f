"""Limits about one rate against Garwood's table and against each machine's own exact limits."""

import math

import pytest

from pipeline.statistics import funnel_limits, poisson_limits

# Garwood (1936), 95 %: the mean at which this count is just too high, and just too low; recomputed to ten digits.
GARWOOD = [(1, 0.02531780798, 5.571643391), (5, 1.62348639, 11.66833208), (20, 12.21651959, 30.8883779)]


@pytest.mark.parametrize(("count", "low_mean", "high_mean"), GARWOOD)
def test_a_limit_is_a_whole_count_where_garwood_says(count: int, low_mean: float, high_mean: float) -> None:
    """At the mean that is the lower limit of a count, that count lies on the upper line, and the other way round."""
    low, high = funnel_limits(1.0, [low_mean, high_mean])
    assert high[0] * low_mean == pytest.approx(count, rel=1e-7)
    assert low[1] * high_mean == pytest.approx(count, rel=1e-7)


def test_nothing_is_too_few_until_no_event_is_unlikely() -> None:
    edge = -math.log(0.025)  # no event has probability 0.025 there: closed form
    low, _ = funnel_limits(1.0, [edge * 0.999, edge * 1.001])
    assert low[0] == 0.0
    assert 0.0 < low[1] * edge < 0.01


@pytest.mark.parametrize("confidence", [0.95, 1 - 0.05 / 8])
def test_outside_exactly_where_its_own_limits_leave_out_the_rate(confidence: float) -> None:
    rate, seen = 0.04, 0
    for hours in (20.0, 100.0, 333.0, 2500.0):
        low, high = funnel_limits(rate, [hours], confidence)
        for count in range(int(3 * rate * hours) + 4):
            below, above = poisson_limits(count, hours, confidence)
            assert (count / hours > high[0]) == (below > rate)
            assert (count / hours < low[0]) == (above < rate)
            seen += below > rate
    assert seen > 20


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="exposures"):
        funnel_limits(1.0, [1.0, 0.0])
    with pytest.raises(ValueError, match="rate"):
        funnel_limits(0.0, [1.0])
