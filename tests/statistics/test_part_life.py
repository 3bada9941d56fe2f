"""Joint limits of Weibull lives, chances to last and early shares, against closed forms and other hands' numbers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats

from pipeline.statistics import (
    chance_to_last,
    early_failures,
    proportion_limits,
    remaining_median,
    weibull_fit,
    weibull_region,
)

# NIST/SEMATECH e-Handbook 8.2.2.1: ten failures, ten units still running at 500 h.
NIST = ([54, 187, 216, 240, 244, 335, 361, 373, 375, 386, *[500] * 10], [True] * 10 + [False] * 10)
# Shock absorbers, O'Connor (1985) p. 85; Meeker and Escobar (1998), Table C.2; km, failures first.
FAILED = [6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490]
CUT = [
    6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040, 17540, 17890, 18450,
    18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100,
]  # fmt: skip
ABSORBERS = ([*FAILED, *CUT], [True] * len(FAILED) + [False] * len(CUT))
# Krivtsov and Case (1999), SAE 1999-01-3220.
CARS = (
    [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900, 3961, 4007, 4734, 6054, 7298, 10190, 23060,
     27160, 28690, 37100, 40060, 45670, 53000, 67000, 69630, 77350, 78470, 91680, 105700, 106300, 150400],
    [True] * 10 + [False] * 21,
)  # fmt: skip
Lives = tuple[list[int], list[bool]]


@pytest.mark.parametrize("lives", [NIST, ABSORBERS, CARS])
@pytest.mark.parametrize("confidence", [0.5, 0.95])
def test_limits_along_the_edge_are_the_profile_likelihood_ones(lives: Lives, confidence: float) -> None:
    """`weibull_fit` finds them another way, by a root of each profile, and is itself held to R and SAS."""
    region, fit = weibull_region(*lives, confidence).fit, weibull_fit(*lives, confidence, "likelihood")
    assert region.shape == fit.shape
    assert region.scale == fit.scale
    for name in ("shape_low", "shape_high", "scale_low", "scale_high", "b10_low", "b10_high"):
        assert getattr(region, name) == pytest.approx(getattr(fit, name), rel=5e-4), name


def test_every_point_of_the_edge_is_as_unlikely_as_the_confidence_says() -> None:
    """2 (l_max - l) = chi2(0.95; 1) = 3.8415, l by scipy's Weibull density and survival."""
    times, failed = (np.array(part) for part in NIST)
    region = weibull_region(times, failed)
    for shape, scale in zip(region.shapes[1:-1:16], region.scales[1:-1:16], strict=True):
        law = stats.weibull_min(shape, scale=scale)
        likelihood = law.logpdf(times[failed]).sum() + law.logsf(times[~failed]).sum()
        assert 2 * (region.fit.log_likelihood - likelihood) == pytest.approx(3.841459, abs=1e-3)


def test_the_edge_has_no_gaps_where_it_turns() -> None:
    """At both ends the two branches meet and Lambert's W is at its branch point, where libraries give no number."""
    draws = np.random.default_rng(3)
    for _ in range(60):
        times = 100 * draws.weibull(draws.uniform(0.5, 4.0), 30)
        region = weibull_region(times, times < np.quantile(times, 0.6))
        assert np.isfinite(region.scales).all()
        assert region.scales[0] == pytest.approx(region.scales[129], rel=1e-4)


def test_the_probability_of_chance_is_the_likelihood_ratio_against_an_exponential() -> None:
    """NIST's data: 10 failures in T = 2771 + 5000 = 7771 h; exponential l = 10 ln(10 / 7771) - 10 = -76.5556.

    The Weibull maximum is -75.1346 (NIST's -75.135); twice the difference 2.8420, chi-square tail 0.09183.
    """
    exponential = 10 * math.log(10 / 7771) - 10
    expected = stats.chi2.sf(2 * (-75.13461816 - exponential), 1)
    assert expected == pytest.approx(0.0918, abs=2e-4)
    assert weibull_region(*NIST).p_chance == pytest.approx(expected, rel=1e-6)


def test_chance_to_last_is_the_conditional_survival() -> None:
    """Shape and scale of NIST: S(500) / S(400) = exp((400/606.528)^1.7208 - (500/606.528)^1.7208) = 0.7956."""
    found = chance_to_last(weibull_region(*NIST), [0.0, 400.0], 100.0)
    assert found.value[1] == pytest.approx(0.7956, abs=1e-4)
    law = stats.weibull_min(1.720797261, scale=606.527558)  # published, NIST/SEMATECH 8.4.1.3
    assert found.value == pytest.approx([law.sf(100), law.sf(500) / law.sf(400)], rel=1e-6)
    assert (found.low < found.value).all()
    assert (found.value < found.high).all()


def test_limits_of_a_chance_agree_with_a_constrained_search() -> None:
    """Another way: scipy's optimiser pushes the chance as far as the likelihood ratio lets it."""
    times, failed = np.array(CARS[0], dtype=float), np.array(CARS[1])
    region = weibull_region(times, failed)

    def law(point: Any) -> Any:
        return stats.weibull_min(math.exp(point[0]), scale=math.exp(point[1]))

    def spare(point: Any) -> Any:
        likelihood = law(point).logpdf(times[failed]).sum() + law(point).logsf(times[~failed]).sum()
        return 1.920729 - (region.fit.log_likelihood - likelihood)

    def chance(point: Any) -> float:
        return float(law(point).sf(70_000.0) / law(point).sf(50_000.0))

    def furthest(sign: float) -> float:
        start: Any = np.log([region.fit.shape, region.fit.scale])
        allowed = optimize.NonlinearConstraint(spare, 0.0, np.inf)
        found = optimize.minimize(lambda point: sign * chance(point), start, method="SLSQP", constraints=allowed)
        return sign * float(found.fun)

    found = chance_to_last(region, [50_000.0], 20_000.0)
    assert (found.low[0], found.high[0]) == pytest.approx((furthest(1.0), furthest(-1.0)), abs=2e-4)


def test_half_are_gone_after_the_remaining_median() -> None:
    """By definition the chance to last the remaining median is one half; of new parts it is scale (ln 2)^(1/shape)."""
    region = weibull_region(*ABSORBERS)
    left = remaining_median(region, [0.0, 9_000.0])
    assert left.value[0] == pytest.approx(region.fit.scale * math.log(2) ** (1 / region.fit.shape))
    assert chance_to_last(region, [9_000.0], left.value[1]).value[0] == pytest.approx(0.5)
    assert left.value[1] < left.value[0]  # the absorbers wear: shape 3.16
    assert (left.low < left.value).all()
    assert (left.value < left.high).all()


def test_an_exponential_life_forgets_its_age() -> None:
    """With shape 1 the chance to last on is exp(-ahead / scale), whatever the age: here the limits nearly are, too."""
    times = -1000 * np.log(1 - (np.arange(1, 401) - 0.5) / 400)
    region = weibull_region(times, np.ones(400, dtype=bool))
    assert region.fit.shape == pytest.approx(1.0, abs=0.02)
    found = chance_to_last(region, [0.0, 500.0, 2000.0], 100.0)
    assert found.value == pytest.approx([math.exp(-0.1)] * 3, abs=0.01)


def test_two_failures_give_a_region_and_one_does_not() -> None:
    assert weibull_region([10, 30, 50], [True, True, False]).fit.failures == 2
    with pytest.raises(ValueError, match="number of failures"):
        weibull_region([10, 30, 50], [True, False, False])
    with pytest.raises(ValueError, match="longest duration"):
        weibull_region([50, 50, 10], [True, True, False])
    with pytest.raises(ValueError, match="ages"):
        chance_to_last(weibull_region(*NIST), [-1.0], 10.0)


def test_early_share_leaves_out_what_was_not_watched_so_long() -> None:
    """Within 24 h: failed at 3 and 24 (2); went on to 24 cut, 30 failed, 80 cut (3); cut short at 5 tells nothing."""
    share = early_failures([3, 24, 24, 30, 80, 5], [1, 1, 0, 1, 0, 0], 24.0)
    assert (share.count, share.trials, share.cut) == (2, 5, 1)
    # Clopper-Pearson of 2 in 5, as tables give: 0.0527 to 0.8534.
    assert (share.low, share.high) == pytest.approx((0.0527, 0.8534), abs=5e-5)
    assert (share.low, share.high) == proportion_limits(2, 5)
    nothing = early_failures([5], [0], 24.0)
    assert (nothing.count, nothing.trials, nothing.low, nothing.high) == (0, 0, 0.0, 1.0)
    with pytest.raises(ValueError, match="within"):
        early_failures([5], [0], 0.0)
