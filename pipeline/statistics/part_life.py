"""What a part in use may still do, and how far groups of parts differ.

A Weibull life is known by two numbers, and a handful of failures leaves both in doubt together: a longer life with a
sharper end fits as well as a shorter one without. Every limit here is therefore taken over the whole region of shape
and scale that the lives do not reject, and not from one number's limits at a time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray
from pipeline.statistics.limits import proportion_limits
from pipeline.statistics.weibull import WeibullFit, weibull_fit

_Quantity = Callable[[FloatArray, FloatArray], FloatArray]
_HAZARD_B10 = -math.log(0.9)
_LOG_SHAPE = 14.0  # shapes are sought within exp(+-14)
_EDGE = 129  # shapes along the edge of the region; with more, limits change by less than 0.1 % of their width


@dataclass(frozen=True, eq=False)
class WeibullRegion:
    """A Weibull fit with likelihood limits, and the edge of the region of shape and scale that the lives allow.

    `shapes` and `scales`: shape (2 k,), points along that edge, scales in the unit of the durations. `p_chance`: the
    probability of so unlike a shape, either way, if the hazard does not change with age (shape 1).
    """

    fit: WeibullFit
    shapes: FloatArray
    scales: FloatArray
    p_chance: float
    confidence: float


@dataclass(frozen=True, eq=False)
class Estimates:
    """A value with limits for each part asked about; arrays of one length."""

    value: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class EarlyShare:
    """Failures within a limit, among lives watched that long: `count` of `trials`; `cut` were cut short before it."""

    count: int
    trials: int
    cut: int
    low: float
    high: float


def weibull_region(durations: ArrayLike, observed: ArrayLike, confidence: float = 0.95) -> WeibullRegion:
    """A Weibull life of right-censored durations with the joint region its limits are taken over.

    The region holds every pair (shape b, scale s) whose log-likelihood is less than chi2(confidence; 1) / 2 below the
    maximum. The least and the greatest value in it of any quantity that b and s decide are that quantity's profile
    likelihood limits. At a given b, with A the sum of t^b over all lives, r failures and d the profile's height over
    the region's edge per failure, s = (A / r)^(1/b) exp(v / b), where v + exp(-v) = 1 + d: both solutions are Lambert's
    W. `p_chance` is the chi-square tail, 1 degree of freedom, of twice the log-likelihood lost by b = 1.

    Assumes what `weibull_fit` does. With three or four failures 95 % limits hold in about nine cases of ten.

    Args:
        durations: lives, shape (n,), one unit; above 0 where failed.
        observed: shape (n,), true where the part failed.
        confidence: two-sided level of all limits taken from the region.

    Returns:
        WeibullRegion.

    Raises:
        ValueError: as `weibull_fit`; or fewer than two failures, which leave the region without an edge.

    Reference: Meeker and Escobar (1998), Statistical Methods for Reliability Data, ch. 8.3.
    """
    fit = weibull_fit(durations, observed, confidence)
    if fit.failures < 2:
        raise arguments.refuse("the number of failures", fit.failures, "2 or more")
    times, failed = arguments.lifetimes(durations, observed)
    unit = float(times.max())
    logs, count = np.log(times[times > 0.0] / unit), fit.failures
    log_sum = float(np.log(times[failed] / unit).sum())
    half = float(special.ndtri(1.0 - arguments.tail(confidence))) ** 2 / 2.0
    best = fit.log_likelihood + count * math.log(unit)

    def profile(log_shape: float) -> float:
        return _profile(math.exp(log_shape), _log_mean(math.exp(log_shape), logs, count), log_sum, count)

    def height(log_shape: float) -> float:
        return profile(log_shape) - best + half

    shapes = np.exp(_between(_limit(height, math.log(fit.shape), -1.0), _limit(height, math.log(fit.shape), 1.0)))
    log_means = np.array([_log_mean(shape, logs, count) for shape in shapes.tolist()])
    above = np.array([_profile(*point, log_sum, count) for point in zip(shapes.tolist(), log_means, strict=True)])
    above = np.maximum(0.0, above - best + half)
    scales = unit * np.exp((log_means + _steps(above / count)) / shapes).ravel()
    lost = max(0.0, best - profile(0.0))
    return WeibullRegion(
        fit=_with_limits(fit, shapes, scales),
        shapes=np.tile(shapes, 2),
        scales=scales,
        p_chance=float(special.chdtrc(1, 2.0 * lost)),
        confidence=float(confidence),
    )


def _with_limits(fit: WeibullFit, shapes: FloatArray, scales: FloatArray) -> WeibullFit:
    """The fit with likelihood limits: the least and greatest shape, scale and B10 along the edge."""
    tenths = scales * _HAZARD_B10 ** (1.0 / np.tile(shapes, 2))
    return replace(
        fit,
        shape_low=float(shapes[0]), shape_high=float(shapes[-1]),
        scale_low=float(scales.min()), scale_high=float(scales.max()),
        b10_low=float(tenths.min()), b10_high=float(tenths.max()),
    )  # fmt: skip


def _steps(above: FloatArray) -> FloatArray:
    """Both v with v + exp(-v) = 1 + above, shape (2, k); where the edge turns v is 0, and Lambert's W may fail."""
    inner = special.lambertw(-np.exp(-1.0 - above), [[0], [-1]]).real
    return np.asarray(-np.log(np.where(np.isnan(inner), 1.0, -inner)), dtype=np.float64)


def _between(low: float, high: float) -> FloatArray:
    """Places from low to high, closest at both ends, where the edge turns."""
    share = (1.0 - np.cos(np.linspace(0.0, np.pi, _EDGE))) / 2.0
    return np.asarray(low + share * (high - low), dtype=np.float64)


def _log_mean(shape: float, logs: FloatArray, failures: int) -> float:
    """ln of sum(t^shape) / failures, in units of the longest life: the sum is 1 at least and cannot overflow."""
    return math.log(float(np.exp(shape * logs).sum()) / failures)


def _profile(shape: float, log_mean: float, log_sum: float, failures: int) -> float:
    """Log-likelihood at a shape and its likeliest scale, in units of the longest life."""
    return failures * (math.log(shape) - log_mean - 1.0) + (shape - 1.0) * log_sum


def _limit(height: Callable[[float], float], best: float, side: float) -> float:
    """Where the height, above 0 at the best, falls to 0 on one side.

    Raises:
        ValueError: it does not, as where all failures are at one duration and nothing lasted longer.
    """
    inner, step = best, 0.25
    while abs(inner) < _LOG_SHAPE:
        outer = inner + side * step
        if height(outer) < 0.0:
            return float(optimize.brentq(height, inner, outer, xtol=1e-12))
        inner, step = outer, step * 2.0
    raise arguments.refuse("durations", "a set that bounds no shape", "failures at unlike durations")


def chance_to_last(region: WeibullRegion, ages: ArrayLike, ahead: float) -> Estimates:
    """For parts still running at `ages`: the probability of lasting `ahead` more, given that they came so far.

    exp((t / s)^b - ((t + ahead) / s)^b) at the likeliest shape b and scale s; the limits are its least and greatest
    value over the region.

    Args:
        region: from `weibull_region`.
        ages: 0 or more, shape (k,), in the unit of the region.
        ahead: 0 or more, same unit.

    Returns:
        Estimates, probabilities. They speak of the chance, not of what one part will do.

    Raises:
        ValueError: an age or `ahead` is negative or not finite.

    Reference: Meeker and Escobar (1998), ch. 8 and 12.
    """
    start = arguments.not_negative("ages", ages)
    (more,) = arguments.not_negative("ahead", [ahead])

    def lasting(shape: FloatArray, scale: FloatArray) -> FloatArray:
        return np.asarray(np.exp((start / scale) ** shape - ((start + more) / scale) ** shape), dtype=np.float64)

    return _over(region, lasting)


def remaining_median(region: WeibullRegion, ages: ArrayLike) -> Estimates:
    """For parts still running at `ages`: the time ahead by which half of such parts have failed.

    s ((t / s)^b + ln 2)^(1/b) - t, limits as in `chance_to_last`, in the unit of the region.

    Raises:
        ValueError: an age is negative or not finite.
    """
    start = arguments.not_negative("ages", ages)

    def ahead(shape: FloatArray, scale: FloatArray) -> FloatArray:
        return np.asarray(scale * ((start / scale) ** shape + math.log(2.0)) ** (1.0 / shape) - start, dtype=np.float64)

    return _over(region, ahead)


def _over(region: WeibullRegion, quantity: _Quantity) -> Estimates:
    along = quantity(region.shapes[:, None], region.scales[:, None])
    best = quantity(np.array([[region.fit.shape]]), np.array([[region.fit.scale]]))[0]
    return Estimates(best, along.min(axis=0), along.max(axis=0))


def early_failures(durations: ArrayLike, observed: ArrayLike, within: float, confidence: float = 0.95) -> EarlyShare:
    """How many of the lives that were watched to `within` had failed by then, with Clopper-Pearson limits.

    A life counts where it failed at or before `within`, or went on for at least as long. One cut short before says
    nothing of it and is counted apart: where many are, and those that fail early are not cut, the share reads high.

    Args:
        durations: 0 or more, shape (n,).
        observed: shape (n,), true where the part failed.
        within: the limit, above 0, same unit.
        confidence: two-sided level.

    Returns:
        EarlyShare; with no life watched so long the limits are 0 and 1.

    Raises:
        ValueError: an argument is out of range, or lengths differ.

    Reference: Clopper and Pearson (1934), Biometrika 26:404-413.
    """
    times, failed = arguments.lifetimes(durations, observed)
    limit = arguments.positive("within", within)
    count = int((failed & (times <= limit)).sum())
    cut = int((~failed & (times < limit)).sum())
    low, high = proportion_limits(count, times.size - cut, confidence)
    return EarlyShare(count, times.size - cut, cut, low, high)
