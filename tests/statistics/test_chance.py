"""Exact tails against closed forms, published examples and scipy's own tests."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from pipeline.statistics import binomial_at_least, poisson_at_least


def test_the_example_of_the_reference_manual() -> None:
    # The manual of scipy.stats.binomtest works this one: a maker claims that at most 10 % of its cars are unsafe, and 3
    # of 15 are. In closed form 1 − 0.9^15 − 15 · 0.1 · 0.9^14 − 105 · 0.01 · 0.9^13 = 0.18406.
    by_hand = 1 - 0.9**15 - 15 * 0.1 * 0.9**14 - 105 * 0.01 * 0.9**13
    assert binomial_at_least(3, 15, 0.1) == pytest.approx(by_hand, rel=1e-12)
    assert round(binomial_at_least(3, 15, 0.1), 5) == 0.18406


def test_deaths_by_horse_kick() -> None:
    # Bortkiewicz (1898), Das Gesetz der kleinen Zahlen: 122 deaths in 200 corps-years, mean 0.61. The corps-years to be
    # expected with 0, 1, 2 and 3 deaths, as textbooks print them, are 200 e^-0.61 0.61^k / k!.
    tails = [200 * poisson_at_least(count, 0.61) for count in range(5)]
    expected = [round(low - high, 2) for low, high in pairwise(tails)]
    assert expected == [108.67, 66.29, 20.22, 4.11]
    # The same to ten digits, recomputed with scipy and R.
    precise = [108.6701738, 66.28880603, 20.21808584, 4.111010787]
    assert [low - high for low, high in pairwise(tails)] == pytest.approx(precise, rel=1e-9)


@given(st.integers(0, 300), st.integers(0, 300), st.floats(0.0, 1.0))
def test_binomial_is_that_of_another_library(seen: int, missed: int, share: float) -> None:
    total = max(seen + missed, 1)
    theirs = stats.binomtest(seen, total, share, alternative="greater").pvalue
    assert binomial_at_least(seen, total, share) == pytest.approx(theirs, rel=1e-9, abs=1e-300)


@given(st.integers(0, 300), st.floats(0.0, 500.0))
def test_poisson_is_that_of_another_library(seen: int, mean: float) -> None:
    assert poisson_at_least(seen, mean) == pytest.approx(stats.poisson.sf(seen - 1, mean), rel=1e-9, abs=1e-300)


def test_far_out_in_the_tail_nothing_is_lost() -> None:
    # All of n: share^n. All but the first: 1 − (1 − share)^n, for a small share n · share.
    assert binomial_at_least(40, 40, 0.01) == pytest.approx(1e-80)
    assert binomial_at_least(1, 10, 1e-12) == pytest.approx(1e-11)
    assert poisson_at_least(1, 1e-12) == pytest.approx(1e-12)
    assert poisson_at_least(2, 0.5) == pytest.approx(1 - 1.5 * math.exp(-0.5))


def test_edges() -> None:
    assert binomial_at_least(0, 0, 0.3) == 1.0
    assert binomial_at_least(0, 9, 0.0) == 1.0
    assert binomial_at_least(1, 9, 0.0) == 0.0
    assert binomial_at_least(9, 9, 1.0) == 1.0
    assert poisson_at_least(0, 0.0) == 1.0
    assert poisson_at_least(1, 0.0) == 0.0


@pytest.mark.parametrize(
    "arguments", [(-1, 3, 0.5), (4, 3, 0.5), (1, 3, 1.1), (1, 3, -0.1), (1, 3, math.nan), (0.5, 3, 0.5)]
)
def test_what_is_no_binomial_count_is_refused(arguments: tuple[int, int, float]) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        binomial_at_least(*arguments)


@pytest.mark.parametrize("arguments", [(-1, 3.0), (1, -0.1), (1, math.inf), (1.5, 1.0)])
def test_what_is_no_poisson_count_is_refused(arguments: tuple[int, float]) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        poisson_at_least(*arguments)
