"""Yearly cost against published tables of interest factors and a published comparison of two machines."""

import math

import pytest

from pipeline.statistics import break_even, capital_recovery, equivalent_annual_cost, present_value

# Compound interest tables: 35 % from "Engineering Economic Analysis", appendix of compound interest tables, p. 585;
# 0.25 % from a table of discrete cash flow factors, A-1. Columns (A/P, i, n) and (P/A, i, n), digits as printed.
TABLES = [
    (0.35, 1, 1.3500, 0.741),
    (0.35, 2, 0.7755, 1.289),
    (0.35, 5, 0.4505, 2.220),
    (0.35, 10, 0.3683, 2.715),
    (0.35, 24, 0.3503, 2.855),
    (0.0025, 5, 0.20150, 4.9627),
    (0.0025, 10, 0.10138, 9.8639),
    (0.0025, 25, 0.04131, 24.2055),
]


@pytest.mark.parametrize(("rate", "years", "recovery", "worth"), TABLES)
def test_published_interest_factors(rate: float, years: float, recovery: float, worth: float) -> None:
    places = 5 if rate < 0.01 else 4
    assert round(capital_recovery(rate, years), places) == pytest.approx(recovery, abs=1e-12)
    assert round(present_value(1.0, rate, years), 4 if rate < 0.01 else 3) == pytest.approx(worth, abs=1e-12)


def test_the_published_comparison_of_two_machines() -> None:
    """Encyclopedia article "Equivalent annual cost", its practical example, at 5 %.

    A costs 50,000, serves 3 years and takes 13,000 a year; B costs 150,000, serves 8 years and takes 7,500. Printed
    results: factors 2.723 and 6.463, yearly 31,360 and 30,708, and 85,400 (85,402 in its note) as of now for A.
    """
    assert present_value(1.0, 0.05, 3) == pytest.approx(2.723, abs=0.0005)
    assert present_value(1.0, 0.05, 8) == pytest.approx(6.463, abs=0.0005)
    a, b = equivalent_annual_cost(50_000, 0.05, 3, 13_000), equivalent_annual_cost(150_000, 0.05, 8, 7_500)
    assert (round(a), round(b)) == (31_360, 30_708)
    assert 50_000 + present_value(13_000, 0.05, 3) == pytest.approx(85_402, abs=1)


def test_monthly_payments_of_another_library() -> None:
    """The example of numpy's pmt, from memory: 200,000 over 15 years at 7.5 %, paid monthly: 1854.0247200054619."""
    assert 200_000 * capital_recovery(0.075 / 12, 12 * 15) == pytest.approx(1854.0247200054619, rel=1e-12)


def test_closed_forms_at_the_edges() -> None:
    """Rate 0: a tenth a year over ten years. Paid for ever: the rate itself. One year: price and interest."""
    assert capital_recovery(0.0, 10) == 0.1
    assert capital_recovery(1e-12, 10) == pytest.approx(0.1, rel=1e-10)
    assert capital_recovery(0.04, 1e6) == pytest.approx(0.04, rel=1e-12)
    assert capital_recovery(0.07, 1) == pytest.approx(1.07, rel=1e-14)
    assert equivalent_annual_cost(100, 0.0, 4, 7) == pytest.approx(32)
    assert present_value(-5, 0.0, 3) == pytest.approx(-15)


def test_the_sum_of_the_discounted_years_is_the_price() -> None:
    yearly = capital_recovery(0.083, 7)
    assert math.fsum(yearly / 1.083**year for year in range(1, 8)) == pytest.approx(1.0, rel=1e-13)


@pytest.mark.parametrize(("rate", "years"), [(-0.01, 5), (0.05, 0), (0.05, -1), (math.nan, 5), (0.05, math.inf)])
def test_what_is_no_rate_and_no_life_is_refused(rate: float, years: float) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        capital_recovery(rate, years)
    with pytest.raises(ValueError, match="allowed is"):
        equivalent_annual_cost(math.nan, 0.05, 5)


def test_a_straight_difference_turns_at_its_root_alone() -> None:
    """3 x - 12 is 0 at 4. Seen from 10 it lies below, from 1 above; from 4 it is now."""
    for now, found in ((10.0, "below"), (1.0, "above"), (0.0, "above")):
        below, above = break_even(lambda x: 3 * x - 12, now, 0.0, 1e9)
        turn, other = (below, above) if found == "below" else (above, below)
        assert turn == pytest.approx(4.0, rel=1e-12)
        assert other is None
    assert break_even(lambda x: 3 * x - 12, 4.0, 0.0, 1e9) == (4.0, 4.0)


def test_the_nearest_turn_on_either_side_is_found() -> None:
    """(x - 2)(x - 5) between its roots, from 3; beyond the range there is none."""

    def bent(x: float) -> float:
        return (x - 2.0) * (x - 5.0)

    below, above = break_even(bent, 3.0, 0.0, 100.0)
    assert [below, above] == pytest.approx([2.0, 5.0], rel=1e-12)
    assert break_even(bent, 3.0, 2.5, 4.0) == (None, None)
    assert break_even(bent, 3.0, 3.0, 3.0) == (None, None)


def test_a_turn_at_the_very_end_of_the_range_counts() -> None:
    assert break_even(lambda x: x, 5.0, 0.0, 10.0) == (0.0, None)
    assert break_even(lambda x: x - 10.0, 5.0, 0.0, 10.0) == (None, 10.0)


def test_small_and_large_values_are_reached() -> None:
    """From 1 a price of two thousand million lies 9 decades up and one of 0.0000005 past 6 decades down, before 0."""
    assert break_even(lambda x: x - 2e9, 1.0, 0.0, 1e12)[1] == pytest.approx(2e9, rel=1e-12)
    assert break_even(lambda x: x - 5e-7, 1.0, 0.0, 1e12)[0] == pytest.approx(5e-7, rel=1e-9)


@pytest.mark.parametrize(("now", "low", "high"), [(5, 6, 10), (5, 0, 4), (-1, -2, 3), (5, 0, math.inf)])
def test_a_value_outside_its_range_is_refused(now: float, low: float, high: float) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        break_even(lambda x: x, now, low, high)


@pytest.mark.parametrize("turn", [1e-50, 1e-200, 1e-290])
def test_a_turn_next_to_nothing_is_found(turn: float) -> None:
    """1 / x − 1 / turn is 0 at turn, and so steep there that only halving finds it."""
    below, above = break_even(lambda x: 1 / x - 1 / turn if x else 1.0, 1.0, 0.0, 1.0)
    assert below == pytest.approx(turn, rel=1e-9)
    assert above is None
