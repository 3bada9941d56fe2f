"""Trend tests against reliability reports, handbooks and R, on published failure times."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from pipeline.statistics import laplace_test, military_handbook_test

Agrees = Callable[..., None]

# NIST/SEMATECH e-Handbook 8.2.2.3 case study, to 1,500 h.
NIST_TIMES = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
# Kaminskiy and Krivtsov (2010), failure-truncated, as shipped by the surpyval package.
KAMINSKIY = [3, 9, 20, 25, 41, 50, 69, 91, 128, 151, 182, 227]


def test_three_systems_pooled(amsaa: list[list[float]], agrees: Agrees) -> None:
    # github jjw3952/mcotear, vignette repairable_mcotear p. 17-18, on Crow's data, each to 200.
    systems = [(times, 200.0) for times in amsaa]
    u, p = laplace_test(systems)
    agrees(u, "-3.012036", -3.012036354)
    agrees(p, "0.002595015", 0.002595015175)
    statistic, p = military_handbook_test(systems)
    agrees(statistic, "117.0092", 117.0091957)
    agrees(p, "0.001269251", 0.001269250888)


def test_handbook_case_study(agrees: Agrees) -> None:
    # NIST/SEMATECH e-Handbook 8.2.3.4: statistic 37.23 (from memory); the rest recomputed in R. The handbook quotes the
    # upper tail, 0.01098635712; two-sided is twice that.
    statistic, p = military_handbook_test(NIST_TIMES, end=1500)
    agrees(statistic, "37.23", 37.22808148)
    agrees(p, precise=2 * 0.01098635712)
    u, p = laplace_test(NIST_TIMES, end=1500)
    agrees(u, precise=-1.326949183)
    agrees(p, precise=0.1845254934)


def test_failure_truncation_leaves_the_last_failure_out(agrees: Agrees) -> None:
    # Recomputed in R: 11 of the 12 failures count, 22 degrees of freedom.
    agrees(laplace_test(KAMINSKIY)[0], precise=-2.206261745)
    agrees(military_handbook_test(KAMINSKIY)[0], precise=37.44025471)


def test_no_trend_with_ties(diesel: list[float], agrees: Agrees) -> None:
    # Recomputed in R: 56 failures, 14.173 twice.
    u, p = laplace_test(diesel, end=16)
    agrees(u, precise=0.3973793459)
    agrees(p, precise=0.6910877439)
    statistic, p = military_handbook_test(diesel, end=16)
    agrees(statistic, precise=98.67226126)
    agrees(p, precise=0.3769803134)


def test_by_hand() -> None:
    # One failure at 3/4 of the watch: u = (0.75 - 0.5) / sqrt(1/12) = 0.8660; statistic 2 ln(4/3) = 0.5754 with 2
    # degrees of freedom, lower tail 1 - exp(-0.2877) = 0.25, p = 0.5.
    assert laplace_test([75], end=100)[0] == pytest.approx(0.25 * math.sqrt(12))
    statistic, p = military_handbook_test([75], end=100)
    assert statistic == pytest.approx(2 * math.log(4 / 3))
    assert p == pytest.approx(0.5)


def test_order_and_container_do_not_matter(amsaa: list[list[float]]) -> None:
    whole = laplace_test(KAMINSKIY)
    assert laplace_test(np.array(KAMINSKIY[::-1])) == whole
    assert laplace_test([(KAMINSKIY, None)]) == whole
    # A system that never failed in its watch adds neither failures nor variance.
    systems = [(times, 200.0) for times in amsaa]
    assert laplace_test([*systems, ([], 200.0)]) == laplace_test(systems)


def test_a_constant_rate_is_rejected_as_often_as_it_should_be() -> None:
    # 2,000 seeded histories at a constant rate, twelve failures each: at 5 % between 71 and 129 rejections are within
    # three standard errors, sqrt(2000 * 0.05 * 0.95) = 9.7.
    draw = np.random.default_rng(4)
    histories = draw.uniform(0, 100, (2000, 12))
    for test in (laplace_test, military_handbook_test):
        assert 71 <= sum(test(times, end=100)[1] < 0.05 for times in histories) <= 129


@pytest.mark.parametrize("test", [laplace_test, military_handbook_test])
@pytest.mark.parametrize(
    ("times", "end", "words"),
    [
        ([], None, "at least one failure"),
        ([], 10, "number of failures"),
        ([5], None, "number of failures"),
        ([5, 11], 10, 'times is "11.0"; allowed is at most the end, 10'),
        ([-1, 5], 10, "times"),
        ([1], 0, "end"),
        ([([1], 10)], 10, "each brings its own"),
        ([math.nan], 10, "finite"),
    ],
)
def test_wrong_input_is_refused(
    test: Callable[..., tuple[float, float]], times: list[float], end: float | None, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        test(times, end)


def test_a_failure_at_zero_has_no_logarithm() -> None:
    assert laplace_test([0, 5], end=10)[0] == pytest.approx((5 - 10) / math.sqrt(2 * 100 / 12))
    with pytest.raises(ValueError, match="above 0"):
        military_handbook_test([0, 5], end=10)
