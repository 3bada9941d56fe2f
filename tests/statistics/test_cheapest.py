"""The chance that a choice is cheapest: closed forms, and another way to the same integral."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from pipeline.statistics import chance_cheapest


def test_two_lines_cross_once() -> None:
    """1 + 3 x is below 7 + x while x is below 3. Exponential with rate 1/2: P(x < 3) = 1 - exp(-3/2)."""
    assert chance_cheapest([1, 7], [3, 1], (1.0, 0.5)) == pytest.approx([1 - math.exp(-1.5), math.exp(-1.5)], rel=1e-13)


def test_three_lines_and_one_that_is_never_lowest() -> None:
    """Lines 4 x, 3 + x and 6: they are lowest below 1, from 1 to 3 and above; 8 + 5 x never is.

    Exponential with rate 1: 1 - e^-1, e^-1 - e^-3, e^-3.
    """
    expected = [1 - math.exp(-1), math.exp(-1) - math.exp(-3), math.exp(-3), 0.0]
    assert chance_cheapest([0, 3, 6, 8], [4, 1, 0, 5], (1.0, 1.0)) == pytest.approx(expected, abs=1e-14)


def test_of_equal_choices_the_first_has_it() -> None:
    assert list(chance_cheapest([5, 5], [2, 2], (3.0, 1.0))) == [1.0, 0.0]
    assert list(chance_cheapest([5], [2], (3.0, 1.0))) == [1.0]
    assert list(chance_cheapest([5], [2], (3.0, 1.0), (0, 1.0, 1.0))) == [1.0]
    assert list(chance_cheapest([5, 5], [0, 0], (3.0, 1.0), (1, 1.0, 1.0))) == [1.0, 0.0]
    assert list(chance_cheapest([5, 5], [0, 0], (3.0, 1.0), (0, 1.0, 1.0))) == [1.0, 0.0]


def test_two_exponential_rates() -> None:
    """x with rate 1 against y with rate 2: P(y < x) = 2 / 3. With 1 added to x's cost: 1 - e^-2 / 3.

    P(y < x + 1) = 1 - P(y > x + 1) = 1 - E[e^(-2(x + 1))] = 1 - e^-2 * 1/3.
    """
    assert chance_cheapest([0, 0], [1, 1], (1.0, 1.0), (1, 1.0, 2.0)) == pytest.approx([1 / 3, 2 / 3], abs=1e-7)
    late = 1 - math.exp(-2) / 3
    assert chance_cheapest([1, 0], [1, 1], (1.0, 1.0), (1, 1.0, 2.0)) == pytest.approx([1 - late, late], abs=1e-7)
    assert chance_cheapest([0, 1], [1, 1], (1.0, 1.0), (0, 1.0, 2.0))[0] == pytest.approx(late, abs=1e-7)


def test_two_gamma_rates_with_one_unit() -> None:
    """P(y < x) for gammas with shapes a, b and one rate is the beta tail: x / (x + y) is Beta(a, b), above 1/2."""
    a, b = 4.5, 2.5
    expected = float(stats.beta.sf(0.5, a, b))
    assert chance_cheapest([0, 0], [1, 1], (a, 3.0), (1, b, 3.0))[1] == pytest.approx(expected, abs=1e-7)


def test_four_choices_against_scipys_integration() -> None:
    """Keep 2 x, overhaul 3 + x, lighter duty 4 + x / 2, replace 2 + y: the lowest line, then one integral each."""
    base, slope = np.array([0.0, 3.0, 4.0]), np.array([2.0, 1.0, 0.5])

    def integrand(x: float, which: int) -> float:
        lines = base + slope * x
        if int(np.argmin(lines)) != which:
            return 0.0
        return float(stats.gamma.pdf(x, 2.5, scale=0.8) * stats.gamma.sf(lines.min() - 2.0, 1.5, scale=1 / 0.6))

    # The lowest line changes where 2 x = 4 + x / 2, at x = 8/3 (3 + x is lowest nowhere); 2 x = 2 at x = 1.
    parts = [0.0, 1.0, 8 / 3, 60.0]
    expected = [
        math.fsum(integrate.quad(integrand, low, high, (which,), epsabs=1e-12)[0] for low, high in pairwise(parts))
        for which in range(3)
    ]
    found = chance_cheapest([0, 2, 3, 4], [2, 1, 1, 0.5], (2.5, 1 / 0.8), (1, 1.5, 0.6))
    assert found[[0, 2, 3]] == pytest.approx(expected, abs=1e-8)
    assert found.sum() == pytest.approx(1.0, abs=1e-14)
    assert found[1] == pytest.approx(1 - math.fsum(expected), abs=1e-8)


@pytest.mark.parametrize(
    ("fixed", "slopes", "law", "other"),
    [
        ([], [], (1.0, 1.0), None),
        ([1, 2], [1], (1.0, 1.0), None),
        ([1, 2], [1, -1], (1.0, 1.0), None),
        ([1, 2], [1, 1], (0.0, 1.0), None),
        ([1, 2], [1, 1], (1.0, 1.0), (2, 1.0, 1.0)),
        ([1, 2], [1, 1], (1.0, 1.0), (1, 1.0, 0.0)),
        ([1, math.nan], [1, 1], (1.0, 1.0), None),
    ],
)
def test_what_cannot_be_is_refused(
    fixed: list[float], slopes: list[float], law: tuple[float, float], other: tuple[int, float, float] | None
) -> None:
    with pytest.raises(ValueError, match=r"allowed is|pair up"):
        chance_cheapest(fixed, slopes, law, other)
