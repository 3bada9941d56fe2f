"""How long heads and other parts last, when most of them have not failed yet.

A Weibull life tells wear-out (shape above 1: replace by hours) from chance failures (shape 1: replacing early wins
nothing), and its B10 says by when a tenth have failed. Parts still running count with the hours they have.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import BoolArray, FloatArray

_LOG_HAZARD_B10 = math.log(-math.log(0.9))  # ln of the cumulative hazard by which a tenth have failed
_LOG_SHAPE = 14.0  # the shape, and limits in units of the longest life, are sought within exp(+-14)
_LARGEST_EXPONENT = 700.0  # exp of more overflows


@dataclass(frozen=True)
class WeibullFit:
    """Weibull life, survival exp(-(t / scale) ** shape), with limits. scale and b10 in the unit of the durations."""

    shape: float
    shape_low: float
    shape_high: float
    scale: float  # 63.2 % have failed
    scale_low: float
    scale_high: float
    b10: float  # 10 % have failed
    b10_low: float
    b10_high: float
    log_likelihood: float
    failures: int
    n: int


@dataclass(frozen=True, eq=False)
class _Lives:
    """Logs of lives in units of the longest, so that no power of them overflows."""

    logs: FloatArray
    failed: BoolArray
    failures: int

    def log_hazard(self, shape: float) -> float:
        """ln of sum(t^shape)."""
        return float(special.logsumexp(shape * self.logs))

    def log_likelihood(self, shape: float, log_scale: float) -> float:
        """Log-likelihood, scale and densities in units of the longest life."""
        hazard = math.exp(min(self.log_hazard(shape) - shape * log_scale, _LARGEST_EXPONENT))
        log_sum = float(self.logs[self.failed].sum())
        return self.failures * (math.log(shape) - shape * log_scale) + (shape - 1.0) * log_sum - hazard


def weibull_fit(
    durations: ArrayLike, observed: ArrayLike, confidence: float = 0.95, method: str = "wald"
) -> WeibullFit:
    """Two-parameter Weibull life of right-censored durations by maximum likelihood.

    shape b solves sum(t^b ln t) / sum(t^b) - 1/b = mean of ln t over the failures, sums over all lives; scale is
    (sum(t^b) / failures)^(1/b) and b10 is scale (-ln 0.9)^(1/b). "wald" limits are normal ones on the log scale from
    the observed information, as most programs print. "likelihood" limits hold the values the likelihood ratio does not
    reject (chi-square, 1 degree of freedom); prefer them below about 20 failures.

    Assumes lives of one kind and a cut that says nothing about the life it cuts.

    Args:
        durations: lives, shape (n,), one unit; above 0 where failed. Lives cut short at 0 are left out.
        observed: shape (n,), true where the part failed, false where it still ran.
        confidence: two-sided level of all limits.
        method: "wald" or "likelihood".

    Returns:
        WeibullFit. A likelihood limit that does not exist is 0 or infinite.

    Raises:
        ValueError: a duration is negative or not finite, a failure lies at 0, observed is not true or false, the
            lengths differ, nothing failed, every failure lies at the longest duration (no maximum exists), confidence
            is outside (0, 1), method is another word.

    Reference: Meeker and Escobar (1998), Statistical Methods for Reliability Data, ch. 8; NIST/SEMATECH e-Handbook
    8.4.1.3.
    """
    if method not in ("wald", "likelihood"):
        raise arguments.refuse("method", method, '"wald" or "likelihood"')
    tail, (lives, unit) = arguments.tail(confidence), _lives(durations, observed)
    shape = _best_shape(lives)
    log_scale = _best_log_scale(lives, shape)
    logs = np.array([math.log(shape), log_scale, log_scale + _LOG_HAZARD_B10 / shape])
    z = float(special.ndtri(1.0 - tail))
    limits = _wald(lives, shape, log_scale, z) if method == "wald" else _likelihood(lives, logs, z)
    with np.errstate(over="ignore"):
        rows = np.exp(np.column_stack([logs, limits])) * np.array([[1.0], [unit], [unit]])
    names = [f"{name}{end}" for name in ("shape", "scale", "b10") for end in ("", "_low", "_high")]
    return WeibullFit(
        **dict(zip(names, rows.ravel().tolist(), strict=True)),
        log_likelihood=lives.log_likelihood(shape, log_scale) - lives.failures * math.log(unit),
        failures=lives.failures,
        n=int(np.size(durations)),
    )


def _lives(durations: ArrayLike, observed: ArrayLike) -> tuple[_Lives, float]:
    """The lives above zero and the longest of them; one cut short at zero carries no information."""
    times, failed = arguments.lifetimes(durations, observed)
    if not failed.any():
        raise arguments.refuse("the number of failures", 0, "1 or more")
    if (times[failed] == 0.0).any():
        raise arguments.refuse("durations", 0.0, "a number above 0 where observed is true")
    times, failed = times[times > 0.0], failed[times > 0.0]
    return _Lives(np.log(times / times.max()), failed, int(failed.sum())), float(times.max())


def _best_shape(lives: _Lives) -> float:
    mean = float(lives.logs[lives.failed].mean())

    def score(log_shape: float) -> float:
        weight = np.exp(math.exp(log_shape) * lives.logs)
        return float(weight @ lives.logs) / float(weight.sum()) - math.exp(-log_shape) - mean

    if score(_LOG_SHAPE) <= 0.0:
        raise ValueError(
            "Every failure lies at the longest duration: no shape is likeliest. Allowed is one failure before."
        )
    return math.exp(float(optimize.brentq(score, -_LOG_SHAPE, _LOG_SHAPE, xtol=1e-14)))


def _best_log_scale(lives: _Lives, shape: float) -> float:
    return (lives.log_hazard(shape) - math.log(lives.failures)) / shape


def _wald(lives: _Lives, shape: float, log_scale: float, z: float) -> FloatArray:
    """Limits of the three logs, shape (3, 2), from the observed information of (ln scale, -ln shape) at the maximum."""
    standard = shape * (lives.logs - log_scale)
    hazard = np.exp(standard)
    cross = shape * float((standard * hazard).sum())
    corner = lives.failures + float((standard**2 * hazard).sum())
    covariance = np.linalg.inv(np.array([[lives.failures * shape**2, cross], [cross, corner]]))
    gradients = np.array([[0.0, -1.0], [1.0, 0.0], [1.0, _LOG_HAZARD_B10 / shape]])
    se = np.sqrt(np.einsum("ij,jk,ik->i", gradients, covariance, gradients))
    best = np.array([math.log(shape), log_scale, log_scale + _LOG_HAZARD_B10 / shape])
    return np.column_stack([best - z * se, best + z * se])


def _likelihood(lives: _Lives, best: FloatArray, z: float) -> FloatArray:
    """Limits of the three logs, shape (3, 2): where twice the drop of the profile likelihood reaches z^2."""
    least = lives.log_likelihood(math.exp(best[0]), float(best[1])) - z * z / 2.0

    def of_shape(log_shape: float) -> float:
        shape = math.exp(log_shape)
        return lives.log_likelihood(shape, _best_log_scale(lives, shape)) - least

    def of_quantile(log_hazard: float, log_time: float) -> float:
        shape = _shape_through(lives, log_time, log_hazard)
        return lives.log_likelihood(shape, log_time - log_hazard / shape) - least

    profiles: list[Callable[[float], float]] = [
        of_shape,
        partial(of_quantile, 0.0),
        partial(of_quantile, _LOG_HAZARD_B10),
    ]
    pairs = zip(profiles, best.tolist(), strict=True)
    return np.array([[_limit(profile, at, side) for side in (-1.0, 1.0)] for profile, at in pairs])


def _shape_through(lives: _Lives, log_time: float, log_hazard: float) -> float:
    """The likeliest shape when the cumulative hazard at one time is given; the likelihood is concave in it."""
    apart = lives.logs - log_time
    mean = float(apart[lives.failed].sum())

    def slope(log_shape: float) -> float:
        exponent = np.minimum(math.exp(log_shape) * apart + log_hazard, _LARGEST_EXPONENT)
        return lives.failures * math.exp(-log_shape) + mean - float((apart * np.exp(exponent)).sum())

    return math.exp(float(optimize.brentq(slope, -_LOG_SHAPE, _LOG_SHAPE, xtol=1e-13)))


def _limit(profile: Callable[[float], float], best: float, side: float) -> float:
    """Where the profile, positive at its best, falls to 0 on one side; infinite there if it does not within reach."""
    inner, step = best, 0.125
    while abs(inner + side * step) < _LOG_SHAPE:
        outer = inner + side * step
        if profile(outer) < 0.0:
            return float(optimize.brentq(profile, inner, outer, xtol=1e-13))
        inner, step = outer, step * 2.0
    return side * math.inf
