"""Weibull fits against NIST, SAS, textbooks, R survreg and scipy."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from pipeline.statistics import WeibullFit, weibull_fit

Agrees = Callable[..., None]
Array = NDArray[np.float64]
Lives = tuple[list[float], list[bool]]


def lives(failed: list[float], running: list[float]) -> Lives:
    return [*failed, *running], [True] * len(failed) + [False] * len(running)


def read(failed: str, running: str = "") -> Lives:
    return lives([float(w) for w in failed.split()], [float(w) for w in running.split()])


# NIST/SEMATECH e-Handbook 8.2.2.1: ten failures, ten units still running at 500 h.
NIST = lives([54, 187, 216, 240, 244, 335, 361, 373, 375, 386], [500.0] * 10)
# Nelson (1982) p. 318, 70 diesel-generator fans; hours and count, failures with *.
FANS = """450* 460 1150*2 1560 1600* 1660 1850:5 2030:3 2070*2 2080* 2200 3000:4 3100* 3200 3450* 3750:2 4150:4 4300:4
4600* 4850:4 5000:3 6100:3 6100* 6300 6450:2 6700 7450 7800:2 8100:2 8200 8500:3 8750:2 8750* 9400 9900 10100:3 11500"""
# Shock absorbers, O'Connor (1985) p. 85; Meeker and Escobar (1998), Table C.2, Example 8.7ff; km.
ABSORBERS = read(
    "6700 9120 12200 13150 14300 17520 20100 20900 22700 26510 27490",
    """6950 7820 8790 9660 9820 11310 11690 11850 11880 12140 12870 13330 13470 14040 17540 17890 18450 18960 18980
    19410 20100 20150 20320 23490 27410 27890 28100""",
)
# Krivtsov and Case (1999), SAE 1999-01-3220.
CARS = read(
    "5248 7454 16890 17200 38700 45000 49390 69040 72280 131900",
    """3961 4007 4734 6054 7298 10190 23060 27160 28690 37100 40060 45670 53000 67000 69630 77350 78470 91680 105700
    106300 150400""",
)


def fans() -> Lives:
    times: list[float] = []
    failed: list[bool] = []
    for word in FANS.split():
        mark = "*" if "*" in word else ":"
        hours, _, many = word.partition(mark)
        times += [float(hours) / 1000] * int(many or 1)
        failed += [mark == "*"] * int(many or 1)
    return times, failed


def log_se(low: float, high: float) -> float:
    """The standard error on the log scale that Wald limits at 95 % were made from."""
    return math.log(high / low) / (2 * 1.959963985)


def test_nist_case_study(agrees: Agrees) -> None:
    # Handbook 8.4.1.3 prints 1.7208 and 606.528; log-likelihood -75.135; limits recomputed with R survreg and two other
    # programs.
    fit = weibull_fit(*NIST)
    agrees(fit.shape, "1.7208", 1.720797261, rel=1e-5)
    agrees(fit.scale, "606.528", 606.527558, rel=1e-5)
    agrees(fit.log_likelihood, "-75.135", -75.13461816, rel=1e-5)
    agrees(2 * 2 - 2 * fit.log_likelihood, "154.27", 154.2692363, rel=1e-5)  # Akaike's, two parameters
    agrees(log_se(fit.scale_low, fit.scale_high), precise=0.205943909, rel=1e-5)
    agrees(log_se(fit.shape_low, fit.shape_high), precise=0.2918127631, rel=1e-5)
    agrees(fit.b10, precise=164.0224387, rel=1e-5)
    agrees(fit.b10_low, precise=83.87512953, rel=1e-5)
    agrees(fit.b10_high, precise=320.7549191, rel=1e-5)
    assert (fit.failures, fit.n) == (10, 20)


def test_drives_at_scale(drives: Lives, agrees: Agrees) -> None:
    # Recomputed by scipy's score equation and by lifelines; days.
    fit = weibull_fit(*drives)
    assert (fit.n, fit.failures) == (52_422, 2_885)
    agrees(fit.shape, precise=1.38849949, rel=1e-5)
    agrees(fit.scale, precise=6138.204623, rel=1e-5)
    agrees(fit.log_likelihood, precise=-29870.30424, rel=1e-6)


def test_fans_mostly_still_running(agrees: Agrees) -> None:
    # SAS/QC PROC RELIABILITY, Getting Started 1 (estimates from memory, recomputed with R survreg), 1,000 h:
    # extreme-value location 3.2694 (0.4659) and scale 0.9448 (0.2394), Weibull scale 26.2968 (12.2514) and shape 1.0584
    # (0.2683).
    times, failed = fans()
    assert (len(times), sum(failed), round(sum(times), 3)) == (70, 12, 344.44)
    fit = weibull_fit(times, failed)
    agrees(math.log(fit.scale), "3.2694", 3.269448977, rel=1e-5)
    agrees(log_se(fit.scale_low, fit.scale_high), "0.4659", 0.465889661, rel=1e-5)
    agrees(1 / fit.shape, "0.9448", 0.9447814454, rel=1e-5)
    agrees(log_se(fit.shape_low, fit.shape_high) / fit.shape, "0.2394", 0.2394440255, rel=1e-5)
    agrees(fit.scale, "26.2968", 26.29684517, rel=1e-5)
    agrees(fit.scale * log_se(fit.scale_low, fit.scale_high), "12.2514", 12.25142828, rel=1e-5)
    agrees(fit.shape, "1.0584", 1.05844585, rel=1e-5)
    agrees(fit.shape * log_se(fit.shape_low, fit.shape_high), "0.2683", 0.2682509657, rel=1e-5)
    agrees(fit.b10, precise=3.137240778, rel=1e-5)
    agrees(fit.b10_low, precise=1.686207372, rel=1e-5)
    agrees(fit.b10_high, precise=5.836933145, rel=1e-5)


def test_shock_absorbers_both_kinds_of_limits(agrees: Agrees) -> None:
    # Meeker and Escobar: mu 10.23 (0.1099), sigma 0.3164 (from memory; the SE of sigma is remembered as 0.07316,
    # exactly 0.0731654); likelihood limits recomputed by profiling in R.
    fit = weibull_fit(*ABSORBERS)
    agrees(math.log(fit.scale), "10.23", 10.22986321, rel=1e-5)
    agrees(1 / fit.shape, "0.3164", 0.3164086039, rel=1e-5)
    agrees(log_se(fit.scale_low, fit.scale_high), "0.1099", 0.109890478, rel=1e-5)
    agrees(log_se(fit.shape_low, fit.shape_high) / fit.shape, precise=0.07316544848, rel=1e-5)
    agrees(fit.shape, precise=3.160470315, rel=1e-5)
    agrees(fit.scale, precise=27718.71813, rel=1e-5)
    agrees(fit.b10, precise=13600.03472, rel=1e-5)
    agrees(fit.b10_low, precise=10221.84183, rel=1e-5)
    agrees(fit.b10_high, precise=18094.67876, rel=1e-5)
    profile = weibull_fit(*ABSORBERS, method="likelihood")
    agrees(profile.shape_low, precise=1.89853217, rel=1e-5)
    agrees(profile.shape_high, precise=4.771390781, rel=1e-5)


def test_small_sample_with_suspensions(agrees: Agrees) -> None:
    # Abernethy, The New Weibull Handbook, App. C.5, as quoted in a public test suite.
    fit = weibull_fit(*read("1500 2250 4000 4300 7000", "1750 5000"))
    agrees(fit.shape, "2.257", 2.257043253, rel=1e-5)
    agrees(fit.scale, "4900.1", 4900.105687, rel=1e-5)
    # The same book's Fig. 2-5, fitted there by rank regression (2.024, 94.998); likelihood gives 3.017 and 87.96.
    fit = weibull_fit(*read("30 49 82 90 96", "10 45 100"))
    agrees(fit.shape, "3.017")
    agrees(fit.scale, "87.96")


def test_cars(agrees: Agrees) -> None:
    # Recomputed with R survreg and the package reliability.
    fit = weibull_fit(*CARS)
    agrees(fit.shape, precise=1.154426671, rel=1e-5)
    agrees(fit.scale, precise=134651.0374, rel=1e-5)
    agrees(fit.log_likelihood, precise=-128.9738323, rel=1e-5)
    agrees(fit.b10, precise=19170.0452, rel=1e-5)
    agrees(fit.b10_low, precise=8155.287631, rel=1e-5)
    agrees(fit.b10_high, precise=45061.63971, rel=1e-5)


def test_equals_scipys_censored_fit() -> None:
    # scipy.stats.weibull_min.fit on CensoredData, location held at 0: good to about 1e-4 by its simplex search.
    times, failed = np.array(ABSORBERS[0]), np.array(ABSORBERS[1])
    data = stats.CensoredData(uncensored=times[failed], right=times[~failed])
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    fit = weibull_fit(times, failed)
    assert fit.shape == pytest.approx(shape, rel=1e-3)
    assert fit.scale == pytest.approx(scale, rel=1e-3)


def least_drop(data: Lives, fit: WeibullFit, shapes: Array, scales: Array) -> float:
    """Least 2 (top - log-likelihood) over pairs of shape and scale, from scipy's own Weibull law."""
    times, failed = np.array(data[0])[:, None], np.array(data[1])
    law = stats.weibull_min(shapes, scale=scales)
    likelihood = law.logpdf(times[failed]).sum(axis=0) + law.logsf(times[~failed]).sum(axis=0)
    return float(2 * (fit.log_likelihood - likelihood.max()))


def test_likelihood_limits_are_where_the_ratio_test_rejects() -> None:
    # Chi-square, 1 degree of freedom: the least drop over the other parameter, sought on a fine grid, is 3.841459 at
    # each limit.
    fit = weibull_fit(*NIST, method="likelihood")
    shapes, scales = np.linspace(0.2, 6.0, 2001), np.geomspace(50.0, 1e5, 2001)
    for shape in (fit.shape_low, fit.shape_high):
        assert least_drop(NIST, fit, np.full(2001, shape), scales) == pytest.approx(3.841459, rel=2e-3)
    for scale in (fit.scale_low, fit.scale_high):
        assert least_drop(NIST, fit, shapes, np.full(2001, scale)) == pytest.approx(3.841459, rel=2e-3)
    for b10 in (fit.b10_low, fit.b10_high):
        through = b10 / (-math.log(0.9)) ** (1 / shapes)
        assert least_drop(NIST, fit, shapes, through) == pytest.approx(3.841459, rel=2e-3)


@pytest.mark.parametrize("unit", [1e-6, 1.0, 1e9])
@pytest.mark.parametrize("method", ["wald", "likelihood"])
def test_another_unit_of_time_changes_times_only(unit: float, method: str) -> None:
    fit, scaled = weibull_fit(*NIST, method=method), weibull_fit(np.array(NIST[0]) * unit, NIST[1], method=method)
    assert scaled.shape_low == pytest.approx(fit.shape_low, rel=1e-8)
    assert scaled.b10_high == pytest.approx(fit.b10_high * unit, rel=1e-8)
    assert scaled.scale_low == pytest.approx(fit.scale_low * unit, rel=1e-8)


def test_lives_cut_short_at_zero_say_nothing() -> None:
    more = weibull_fit([0.0, *NIST[0]], [False, *NIST[1]])
    fit = weibull_fit(*NIST)
    assert (more.shape, more.scale, more.n) == (fit.shape, fit.scale, 21)


def test_one_failure_leaves_a_likelihood_limit_open() -> None:
    # With one failure and one longer run a b10 of almost nothing cannot be ruled out: its limit is 0, not a number.
    fit = weibull_fit([3, 5], [True, False], method="likelihood")
    assert fit.b10_low == 0.0
    assert fit.b10_high > fit.b10 > 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: weibull_fit([1, 2], [0, 0]), "number of failures"),
        (lambda: weibull_fit([], []), "number of failures"),
        (lambda: weibull_fit([0, 2], [1, 1]), "above 0 where observed"),
        (lambda: weibull_fit([5, 5, 2], [1, 1, 0]), "longest duration"),
        (lambda: weibull_fit([1, 2], [1, 1], method="bayes"), 'method is "bayes"; allowed is "wald" or "likelihood"'),
        (lambda: weibull_fit([1, -2], [1, 1]), "durations"),
        (lambda: weibull_fit([1, 2], [1]), "must pair up"),
        (lambda: weibull_fit([1, 2], [1, 1], confidence=0), "confidence"),
    ],
)
def test_wrong_input_is_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
