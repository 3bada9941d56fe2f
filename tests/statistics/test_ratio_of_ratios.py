"""Two ratios held against each other: Fisher's exact test in one case, enumeration in the others."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from scipy import stats

from pipeline.statistics import ratio_of_ratios


def test_one_stratum_each_is_a_two_by_two_table() -> None:
    """Equal exposures: p is Fisher's one-sided, ratio and limits the conditional ones, by scipy."""
    table = np.array([[11, 4], [6, 13]])
    found = ratio_of_ratios(([11], [2.0], [4], [2.0]), ([6], [5.0], [13], [5.0]))
    theirs = stats.contingency.odds_ratio(table, kind="conditional")
    limits = theirs.confidence_interval(0.95)
    assert found.p == pytest.approx(stats.fisher_exact(table, alternative="greater").pvalue, rel=1e-9)
    assert found.ratio == pytest.approx(theirs.statistic, rel=1e-5)
    assert (found.low, found.high) == pytest.approx((limits.low, limits.high), rel=1e-5)


def test_several_strata_by_enumeration() -> None:
    """Every way in which the events of five strata can fall, at ratio 1, given the sum; slow and plain."""
    first = [(2, 1.0, 0, 3.0), (1, 2.0, 1, 1.0)]
    second = [(0, 1.0, 1, 1.0), (1, 4.0, 1, 1.0), (0, 1.0, 2, 5.0)]
    strata = first + second
    chances: dict[int, float] = {}
    for falls in product(*(range(a + b + 1) for a, _, b, _ in strata)):
        if sum(falls) == sum(a for a, _, _, _ in strata):
            chance = math.prod(
                math.comb(a + b, k) * (s / (s + t)) ** k * (t / (s + t)) ** (a + b - k)
                for k, (a, s, b, t) in zip(falls, strata, strict=True)
            )
            chances[sum(falls[:2])] = chances.get(sum(falls[:2]), 0.0) + chance
    expected = sum(p for k, p in chances.items() if k >= 3) / sum(chances.values())
    ours, theirs = (tuple(zip(*rows, strict=True)) for rows in (first, second))
    assert ratio_of_ratios(ours, theirs).p == pytest.approx(expected, rel=1e-9)  # type: ignore[arg-type]


def test_the_ends_and_what_tells_nothing() -> None:
    assert math.isnan(ratio_of_ratios(([0], [1.0], [0], [1.0]), ([3], [1.0], [1], [1.0])).ratio)
    assert ratio_of_ratios(([4], [1.0], [0], [0.0]), ([3], [1.0], [1], [1.0])).p == 1.0
    all_there = ratio_of_ratios(([4], [1.0], [0], [1.0]), ([0], [1.0], [4], [1.0]))
    assert (all_there.ratio, all_there.high) == (math.inf, math.inf)
    assert all_there.p == pytest.approx(1 / math.comb(8, 4))
    none = ratio_of_ratios(([0], [1.0], [4], [1.0]), ([4], [1.0], [0], [1.0]))
    assert (none.ratio, none.low) == (0.0, 0.0)
    assert none.p == pytest.approx(1.0)


def test_wrong_input_is_refused() -> None:
    good = ([1], [1.0], [1], [1.0])
    for bad in (
        ([1], [0.0], [1], [1.0]),
        ([1.5], [1.0], [1], [1.0]),
        ([1], [1.0], [1, 2], [1.0]),
        ([-1], [1.0], [1], [1.0]),
    ):
        with pytest.raises(ValueError, match="counts"):
            ratio_of_ratios(bad, good)
    with pytest.raises(ValueError, match="confidence"):
        ratio_of_ratios(good, good, confidence=2.0)
