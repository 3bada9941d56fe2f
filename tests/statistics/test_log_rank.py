"""The log-rank test against textbooks, R and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pipeline.statistics import log_rank

# Freireich (1963), as in Gehan (1965): weeks of remission, 6-MP and placebo; cut short are False.
SIX_MP = ([6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35], [True] * 9 + [False] * 12)
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def test_the_leukaemia_remissions_of_the_textbooks() -> None:
    """R's survdiff prints 9 and 21 seen, 19.3 and 10.7 expected; chi-square 16.79 (Kleinbaum and Klein), p 4e-05."""
    found = log_rank([*SIX_MP[0], *PLACEBO], [*SIX_MP[1], *[True] * 21], ["6-MP"] * 21 + ["placebo"] * 21)
    assert found.groups == ("6-MP", "placebo")
    assert found.failures.tolist() == [9, 21]
    assert found.expected == pytest.approx([19.25050095, 10.74949905], rel=1e-6)
    assert found.chi_square == pytest.approx(16.79294099, rel=1e-8)
    assert found.degrees == 1
    assert found.p == pytest.approx(4.168809109e-05, rel=1e-6)


def test_maintained_remissions_of_the_r_manual() -> None:
    """R survival, tests/doaml.Rout.save (Miller 1981): 10.69 expected of the maintained, chi-square 3.4."""
    maintained = [9, 13, 18, 23, 31, 34, 48, 13, 28, 45, 161]
    others = [5, 5, 8, 8, 12, 23, 27, 30, 33, 43, 45, 16]
    seen = [True] * 7 + [False] * 4 + [True] * 11 + [False]
    found = log_rank([*maintained, *others], seen, ["maintained"] * 11 + ["other"] * 12)
    assert found.expected[0] == pytest.approx(10.68933599, rel=1e-8)
    assert found.chi_square == pytest.approx(3.396388699, rel=1e-8)


def test_two_groups_agree_with_scipy() -> None:
    """scipy gives the standard normal statistic; its square is the chi-square."""
    treated = stats.CensoredData.right_censored(SIX_MP[0], [not seen for seen in SIX_MP[1]])
    given = stats.logrank(treated, stats.CensoredData(PLACEBO))
    found = log_rank([*SIX_MP[0], *PLACEBO], [*SIX_MP[1], *[True] * 21], ["a"] * 21 + ["b"] * 21)
    assert found.chi_square == pytest.approx(given.statistic**2)
    assert found.p == pytest.approx(given.pvalue)


def test_four_groups_with_ties_agree_with_statsmodels() -> None:
    from statsmodels.duration.survfunc import survdiff

    draws = np.random.default_rng(8)
    times, seen = draws.integers(1, 30, 120), draws.random(120) < 0.6
    groups = draws.choice(["a", "b", "c", "d"], 120)
    chi_square, p = survdiff(times, seen.astype(int), groups)
    found = log_rank(times, seen, groups.tolist())
    assert found.degrees == 3
    assert found.chi_square == pytest.approx(chi_square)
    assert found.p == pytest.approx(p)


def test_what_is_seen_adds_up_to_what_is_expected() -> None:
    found = log_rank([5, 9, 9, 12, 2], [True, True, False, True, False], ["x", "y", "x", "y", "z"])
    assert found.failures.sum() == 3
    assert found.expected.sum() == pytest.approx(3.0)
    assert found.expected[2] == 0.0  # z was cut short before the first failure


def test_with_nothing_to_compare_nothing_is_found() -> None:
    for times, seen, groups in (
        ([5, 6], [True, True], ["a", "a"]),  # one group
        ([5, 6], [False, False], ["a", "b"]),  # no failure
        ([5, 1], [True, False], ["a", "b"]),  # never at risk together
        ([], [], []),
    ):
        found = log_rank(times, seen, groups)
        assert (found.degrees, found.p, found.chi_square) == (0, 1.0, 0.0)
    with pytest.raises(ValueError, match="pair up"):
        log_rank([1, 2], [True, True], ["a"])
