"""Names dealt anew, sums of unlike chances and Holm's rule: by enumeration, by hand, and by other libraries."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from pipeline.statistics import (
    benjamini_hochberg,
    bernoulli_sum_at_least,
    holm,
    placement_chances,
    stratified_rate_ratio,
)


def test_the_lady_tasting_tea() -> None:
    # Fisher (1935), The Design of Experiments: eight cups, four with milk first; at least three of them told right has
    # 1 + 16 of the 70 ways.
    scores = [1, 1, 1, 0, 1, 0, 0, 0]
    found = placement_chances(scores, ["one"] * 8, ["first"] * 4 + ["second"] * 4)
    assert found["first"].p == pytest.approx(17 / 70, rel=1e-12)
    assert found["second"].p == pytest.approx(69 / 70, rel=1e-12)
    assert (found["first"].total, found["first"].expected) == pytest.approx((3, 2))
    # Variance of a hypergeometric count: 4 × 1/2 × 1/2 × (8 − 4) / (8 − 1) = 4/7.
    assert found["first"].deviation == pytest.approx((4 / 7) ** 0.5)


def enumerated(scores: list[float], strata: list[str], names: list[str], name: str) -> float:
    """The share of all deals within strata in which the sum is at least the one seen; slow and plain."""
    laws = [{0.0: 1.0}]
    for stratum in dict.fromkeys(strata):
        rows = [row for row, one in enumerate(strata) if one == stratum]
        mine = [names[row] for row in rows]
        deals = list(permutations(mine))
        law: dict[float, float] = {}
        for deal in deals:
            total = sum(scores[row] for row, one in zip(rows, deal, strict=True) if one == name)
            law[total] = law.get(total, 0.0) + 1 / len(deals)
        laws.append(law)
    sums = {0.0: 1.0}
    for law in laws:
        sums = _convolved(sums, law)
    seen = sum(score for score, one in zip(scores, names, strict=True) if one == name)
    return sum(p for total, p in sums.items() if total >= seen - 1e-9)


def _convolved(one: dict[float, float], other: dict[float, float]) -> dict[float, float]:
    found: dict[float, float] = {}
    for a, p in one.items():
        for b, q in other.items():
            found[a + b] = found.get(a + b, 0.0) + p * q
    return found


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(-8, 40), st.sampled_from("xy"), st.sampled_from("abc")), min_size=2, max_size=8))
def test_every_deal_counted_out(units: list[tuple[int, str, str]]) -> None:
    """Scores in steps of a quarter, so that none is rounded away."""
    scores, strata, names = [unit[0] / 4 for unit in units], [unit[1] for unit in units], [unit[2] for unit in units]
    found = placement_chances(scores, strata, names, step=0.25)
    for name, placed in found.items():
        one_way = all(len({n for s, n in zip(strata, names, strict=True) if s == stratum}) == 1 for stratum in strata)
        expected = 1.0 if one_way else enumerated(scores, strata, names, name)
        assert placed.p == pytest.approx(expected, abs=1e-9)


def test_one_bad_unit_names_nobody() -> None:
    """Whatever it brings, it falls to a name with a quarter of the units in one deal of four."""
    scores = [0.0] * 39 + [1000.0]
    names = ["bad"] * 10 + ["other"] * 30
    found = placement_chances(scores[::-1], ["all"] * 40, names)
    assert found["bad"].p == pytest.approx(0.25)


def test_a_name_that_cannot_be_dealt_otherwise_says_nothing() -> None:
    found = placement_chances([5.0, 6.0, 0.0], ["x", "x", "y"], ["a", "a", "b"])
    assert {name: (one.p, one.deviation) for name, one in found.items()} == {"a": (1.0, 0.0), "b": (1.0, 0.0)}


def test_many_units_follow_the_normal_curve() -> None:
    draws = np.random.default_rng(5)
    scores = draws.poisson(1.0, 400) - 1.0
    names = ["a" if number % 4 else "b" for number in range(400)]
    found = placement_chances(scores, [str(number % 5) for number in range(400)], names)["b"]
    normal = stats.norm.sf((found.total - 0.5 - found.expected) / found.deviation)
    assert found.p == pytest.approx(normal, abs=0.01)


def test_sums_of_unlike_chances() -> None:
    # By hand: shares 1/2 and 1/4; none with 1/2 × 3/4 = 3/8, both with 1/8.
    assert bernoulli_sum_at_least(0, [0.5, 0.25]) == 1.0
    assert bernoulli_sum_at_least(1, [0.5, 0.25]) == pytest.approx(5 / 8, rel=1e-14)
    assert bernoulli_sum_at_least(2, [0.5, 0.25]) == pytest.approx(1 / 8, rel=1e-14)
    assert bernoulli_sum_at_least(0, []) == 1.0
    assert bernoulli_sum_at_least(9, [0.3] * 20) == pytest.approx(stats.binom.sf(8, 20, 0.3), rel=1e-12)


def test_sums_of_unlike_chances_are_the_upper_tail_of_the_stratified_test() -> None:
    a, s, b, t = [2, 0, 3], [1.0, 2.0, 1.5], [1, 1, 0], [2.0, 1.0, 1.0]
    shares = np.repeat(np.array(s) / (np.array(s) + np.array(t)), np.array(a) + np.array(b))
    ratio, _, _, p = stratified_rate_ratio(a, s, b, t)
    assert ratio > 1
    assert 2 * bernoulli_sum_at_least(5, shares) == pytest.approx(p, rel=1e-12)


def test_holm_by_hand_and_by_another_library() -> None:
    # 3 × 0.01 = 0.03; 2 × 0.04 = 0.08; then 0.5. And 3 × 0.03 = 0.09 holds down to 2 × 0.04 = 0.08, so 0.09 twice.
    assert holm([0.5, 0.01, 0.04]) == pytest.approx([0.5, 0.03, 0.08])
    assert holm([0.03, 0.04, 0.9]) == pytest.approx([0.09, 0.09, 0.9])
    values = np.random.default_rng(2).uniform(0, 0.2, 30)
    assert holm(values) == pytest.approx(multipletests(values, method="holm")[1], rel=1e-12)
    assert (holm(values) >= benjamini_hochberg(values) - 1e-12).all()
    assert holm([]).size == 0


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="values"):
        placement_chances([1.0], ["x", "y"], ["a"])
    with pytest.raises(ValueError, match="step"):
        placement_chances([1.0], ["x"], ["a"], step=0.0)
    with pytest.raises(ValueError, match="shares"):
        bernoulli_sum_at_least(2, [0.5])
    with pytest.raises(ValueError, match="shares"):
        bernoulli_sum_at_least(1, [1.5])
    with pytest.raises(ValueError, match="p_values"):
        holm([1.5])
