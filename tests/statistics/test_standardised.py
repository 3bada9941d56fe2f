"""Seen over expected: by hand, against Clopper and Pearson with one class, and by adding up all ways with two."""

import math

import pytest
from scipy import optimize, stats

from pipeline.statistics import proportion_limits, rate_ratio, standardised_ratio


def test_expected_by_hand() -> None:
    # 10 of 100 h of old reels with 10 events in all, and 50 of 500 h of new ones with 10: 1 + 1 = 2 expected.
    found = standardised_ratio([3, 1], [10.0, 50.0], [10, 10], [100.0, 500.0])
    assert found.seen == 4
    assert [found.expected, found.ratio] == pytest.approx([2.0, 2.0])


def test_easy_work_is_allowed_for() -> None:
    """A machine with all its hours in the easy class: few events, but as many as others have there."""
    found = standardised_ratio([2, 0], [100.0, 0.0], [4, 40], [200.0, 100.0])
    assert found.ratio == pytest.approx(1.0)
    crude = rate_ratio(2, 100.0, 42, 200.0)
    assert crude[0] < 0.1


def test_one_class_is_clopper_and_pearson() -> None:
    found = standardised_ratio([5], [100.0], [20], [800.0])
    low, high = proportion_limits(5, 20)
    assert [found.low, found.high] == pytest.approx([low * 8, high * 8])


def test_two_classes_by_adding_up() -> None:
    """2 events in a class with half the hours, 1 in one with a quarter; all three are the machine's."""
    found = standardised_ratio([2, 1], [50.0, 25.0], [2, 1], [100.0, 100.0])
    assert found.expected == pytest.approx(2 * 0.5 + 0.25)
    assert found.high == pytest.approx(3 / 1.25)  # no rate is too high to see all of them

    def all_three(r: float) -> float:
        return float((r / (1 + r)) ** 2 * (r / (r + 3)))

    r = optimize.brentq(lambda log_r: all_three(math.exp(log_r)) - 0.025, -10.0, 10.0)
    r = math.exp(r)
    assert found.low == pytest.approx((2 * r / (1 + r) + r / (r + 3)) / 1.25, rel=1e-6)


def test_limits_leave_out_1_where_the_tail_is_that_small() -> None:
    """Two classes with like shares are one: the tail is binomial, 9 or more of 20 with a share of 0.2."""
    found = standardised_ratio([5, 4], [20.0, 40.0], [10, 10], [100.0, 200.0])
    assert (found.low > 1.0) == (stats.binom(20, 0.2).sf(8) < 0.025)
    assert found.low > 1.0


def test_a_class_of_its_own_says_nothing() -> None:
    found = standardised_ratio([0, 1], [100.0, 10.0], [3, 1], [800.0, 10.0])
    assert found.expected == pytest.approx(3 / 8 + 1)
    assert found.low == pytest.approx(1 / found.expected)


def test_nothing_expected() -> None:
    found = standardised_ratio([0, 0], [10.0, 0.0], [0, 5], [100.0, 100.0])
    assert math.isnan(found.ratio)
    assert (found.low, found.high) == (0.0, math.inf)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="room"):
        standardised_ratio([3], [10.0], [2], [100.0])
    with pytest.raises(ValueError, match="room"):
        standardised_ratio([1], [110.0], [2], [100.0])
    with pytest.raises(ValueError, match="exposures"):
        standardised_ratio([1, 0], [0.0, 10.0], [2, 2], [100.0, 100.0])
