"""One ratio inside strata: against the unstratified exact ratio, an enumeration, and a published table."""

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipeline.statistics import rate_ratio, stratified_rate_ratio
from tests.statistics.test_regression import DEATHS, YEARS


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 40), st.floats(0.1, 500), st.integers(0, 40), st.floats(0.1, 500), st.floats(0.6, 0.99))
def test_one_stratum_is_the_raw_ratio(a: int, s: float, b: int, t: float, confidence: float) -> None:
    raw = rate_ratio(a, s, b, t, confidence)
    found = stratified_rate_ratio([a], [s], [b], [t], confidence=confidence)
    assert found == pytest.approx(raw, rel=1e-7, nan_ok=True)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), min_size=1, max_size=4), st.floats(0.2, 5.0))
def test_strata_of_one_mix_add_up_to_one(counts: list[tuple[int, int]], mix: float) -> None:
    """Where every stratum has the same share of exposure in a, the sum is one binomial: the pooled raw ratio."""
    a, b = ([float(pair[side]) for pair in counts] for side in (0, 1))
    s, t = [mix] * len(a), [1.0] * len(b)
    raw = rate_ratio(int(sum(a)), sum(s), int(sum(b)), sum(t))
    assert stratified_rate_ratio(a, s, b, t) == pytest.approx(raw, rel=1e-7, nan_ok=True)


def test_two_strata_by_enumeration() -> None:
    """X = X1 + X2 with X1 of Bin(3, r/(r+1)) and X2 of Bin(2, r/(r+4)); seen 2 + 2. scipy's binomial as judge."""
    ratio, low, high, p = stratified_rate_ratio([2, 2], [10, 10], [1, 0], [10, 40])

    def at(r: float, least: int, most: int) -> float:
        shares = r / (r + 1), r / (r + 4)
        return float(
            sum(
                stats.binom.pmf(i, 3, shares[0]) * stats.binom.pmf(j, 2, shares[1])
                for i, j in product(range(4), range(3))
                if least <= i + j <= most
            )
        )

    assert at(low, 4, 5) == pytest.approx(0.025, rel=1e-8)
    assert at(high, 0, 4) == pytest.approx(0.025, rel=1e-8)
    assert p == pytest.approx(2 * at(1.0, 4, 5), rel=1e-10)
    assert 3 * ratio / (ratio + 1) + 2 * ratio / (ratio + 4) == pytest.approx(4.0)


def test_the_british_doctors() -> None:
    # Breslow and Day (1987); the maximum likelihood ratio inside ages is printed as 1.425519 with Wald limits 1.154984
    # to 1.759421 (https://www.stata.com/features/overview/poisson-regression/). Exact limits lie a little outside.
    ratio, low, high, p = stratified_rate_ratio(DEATHS[0], YEARS[0], DEATHS[1], YEARS[1])
    assert ratio == pytest.approx(1.425519, rel=2e-6)
    assert 0.97 * 1.154984 < low < 1.154984
    assert 1.759421 < high < 1.03 * 1.759421
    assert 0.0001 < p < 0.002


def test_a_bad_stratum_that_is_treated_otherwise_fools_the_raw_ratio_only() -> None:
    """Rates 1 and 10, no effect of a in either, but the bad stratum is nearly all a: raw 4.6, inside strata 1."""
    a, s, b, t = [10, 900], [10, 90], [90, 100], [90, 10]
    assert rate_ratio(sum(a), sum(s), sum(b), sum(t))[0] == pytest.approx(910 / 190)
    ratio, low, high, p = stratified_rate_ratio(a, s, b, t)
    assert ratio == pytest.approx(1.0)
    assert low < 1.0 < high
    assert p > 0.5


def test_strata_that_say_nothing_change_nothing() -> None:
    told = stratified_rate_ratio([3, 4], [5, 6], [2, 5], [7, 8])
    assert stratified_rate_ratio([3, 4, 0, 9], [5, 6, 4, 3], [2, 5, 0, 0], [7, 8, 4, 0]) == told


def test_the_edges() -> None:
    assert stratified_rate_ratio([0, 0], [1, 1], [2, 3], [1, 1])[:2] == (0.0, 0.0)
    ratio, low, high, _ = stratified_rate_ratio([2, 3], [1, 1], [0, 0], [1, 1])
    assert (ratio, high) == (math.inf, math.inf)
    # All five of five: P(X >= 5; r) = (r / (r + 1))^5 = 0.025.
    assert low / (low + 1) == pytest.approx(0.025 ** (1 / 5))
    ratio, low, high, p = stratified_rate_ratio([5], [1], [0], [0])
    assert math.isnan(ratio)
    assert (low, high, p) == (0.0, math.inf, 1.0)


def test_many_strata_stay_exact() -> None:
    """Three hundred strata of one event each and equal hours: one binomial of 300."""
    seen = np.arange(300) % 3 == 0
    raw = rate_ratio(100, 300.0, 200, 300.0)
    assert stratified_rate_ratio(seen, np.ones(300), ~seen, np.ones(300)) == pytest.approx(raw, rel=1e-7)


def test_thousands_of_events_are_joined_as_well() -> None:
    """Four strata of 3,000 events and equal hours, 1,600 and 1,400: one binomial of 12,000."""
    raw = rate_ratio(6400, 4.0, 5600, 4.0)
    assert stratified_rate_ratio([1600] * 4, [1] * 4, [1400] * 4, [1] * 4) == pytest.approx(raw, rel=1e-6)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([1], [0], [1], [1]), "above 0"),
        (([1.5], [1], [1], [1]), "whole"),
        (([1], [1], [1, 2], [1, 2]), "pair up"),
        (([1], [1, 2], [1], [1]), "pair up"),
        (([-1], [1], [1], [1]), "0 or more"),
    ],
)
def test_what_no_formula_can_use_is_refused(arguments: tuple[list[float], ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        stratified_rate_ratio(*arguments)  # type: ignore[call-arg, arg-type]
