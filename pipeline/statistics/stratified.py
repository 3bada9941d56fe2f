"""One ratio of two rates held inside groups: machines differ, and what is compared must not be the machines.

A bad machine that is seldom cleaned makes cleaning look better than it is, a bad one that is cleaned more makes it look
harmful. Compared inside each machine and then put together, the machines' own rates drop out of the answer.
"""

import math
from collections.abc import Callable, Sequence
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray

_LONG = 1024
_ROUNDING = 1e-13
_FURTHEST = 700.0  # exp of it is near the largest float


def stratified_rate_ratio(
    counts_a: ArrayLike,
    exposures_a: ArrayLike,
    counts_b: ArrayLike,
    exposures_b: ArrayLike,
    *,
    confidence: float = 0.95,
) -> tuple[float, float, float, float]:
    """Ratio of two Poisson rates, a over b, common to all strata, with exact conditional limits and p-value.

    Stratum i has events x_i in group a over exposure s_i and y_i in b over t_i, at rates r m_i and m_i. Given the
    totals n_i = x_i + y_i the m_i drop out: x_i is binomial of n_i with share r s_i / (r s_i + t_i), and X, the sum of
    the x_i, follows the convolution of these binomials. With a = 1 - confidence, low solves P(X >= x; r) = a/2 and high
    P(X <= x; r) = a/2. The ratio solves E(X; r) = x: the conditional maximum likelihood estimate, which is also that of
    a Poisson regression with one intercept a stratum. p tests r = 1: twice the smaller tail, at most 1. With one
    stratum all four are those of `rate_ratio`.

    Assumes Poisson counts, independent, and one ratio in all strata. Strata without an event, or with exposure in one
    group only, say nothing about the ratio and are left out.

    Args:
        counts_a: events in group a, whole numbers, shape (n,).
        exposures_a: exposure of group a, shape (n,); 0 only where its count is 0.
        counts_b: events in group b, shape (n,).
        exposures_b: exposure of group b in the same unit, shape (n,).
        confidence: two-sided level of the limits.

    Returns:
        (ratio, low, high, p). All events in a: ratio and high are infinite. None of them: ratio and low are 0. No
        stratum that says anything: ratio is NaN, the limits are 0 and infinity, p is 1.

    Raises:
        ValueError: a count or exposure is negative, not finite or not whole, they do not pair up, a count stands where
            exposure is 0, confidence is outside (0, 1).

    Reference: Breslow and Day (1987), Statistical Methods in Cancer Research II, 3.5; Martin and Austin (1996),
    Epidemiology 7:29-33, for the exact limits.
    """
    tail = arguments.tail(confidence)
    seen_a, time_a = _counts(counts_a, exposures_a)
    seen_b, time_b = _counts(counts_b, exposures_b)
    arguments.same_length("counts_a", seen_a, "counts_b", seen_b)
    telling = (seen_a + seen_b > 0) & (time_a > 0) & (time_b > 0)
    if not telling.any():
        return math.nan, 0.0, math.inf, 1.0
    totals, odds = (seen_a + seen_b)[telling], (time_a / np.where(time_b > 0, time_b, 1.0))[telling]
    found, most = int(seen_a[telling].sum()), int(totals.sum())
    law = _law(totals, odds)
    p = min(1.0, 2.0 * float(min(law[: found + 1].sum(), law[found:].sum())))
    if found == 0:  # P(X = 0) is a product, and so is P(X = all)
        return 0.0, 0.0, _solve(lambda r: float((totals * np.log1p(r * odds)).sum()) + math.log(tail)), p
    if found == most:
        low = _solve(lambda r: -float((totals * np.log1p(1.0 / (r * odds))).sum()) - math.log(tail))
        return math.inf, low, math.inf, p
    ratio = _solve(lambda r: float((totals * r * odds / (1.0 + r * odds)).sum()) - found)
    low, high = _inner_limits(_law(totals, ratio * odds), found, tail)
    return ratio, ratio * low, ratio * high, p


def _inner_limits(law: FloatArray, found: int, tail: float) -> tuple[float, float]:
    """Both limits, as multiples of the ratio of which `law` is the law of X.

    P(X = x) at t times that ratio is proportional to law(x) t^x, so that the strata need not be put together again.
    """
    places = np.arange(law.size)
    with np.errstate(divide="ignore"):  # what is below the least float is too far out to matter at the limits
        logs = np.log(law)

    def above(times: float, least: int) -> float:
        weights = logs + places * math.log(times)
        weights = np.exp(weights - weights.max())
        return float(weights[least:].sum() / weights.sum())

    low = _solve(lambda times: above(times, found) - tail)
    return low, _solve(lambda times: tail - (1.0 - above(times, found + 1)))


def _counts(counts: ArrayLike, exposures: ArrayLike) -> tuple[FloatArray, FloatArray]:
    events, exposure = arguments.not_negative("counts", counts), arguments.not_negative("exposures", exposures)
    arguments.same_length("counts", events, "exposures", exposure)
    if (events != np.round(events)).any():
        raise arguments.refuse("counts", events[events != np.round(events)][0], "whole numbers")
    if ((exposure == 0.0) & (events > 0.0)).any():
        raise arguments.refuse("exposures", 0.0, "a number above 0 wherever the count is above 0")
    return events, exposure


def _law(totals: FloatArray, odds: FloatArray) -> FloatArray:
    """Probability of each sum from 0 to the total of totals."""
    laws: Sequence[FloatArray] = [
        _binomial(int(total), share) for total, share in zip(totals, odds / (1.0 + odds), strict=True)
    ]
    while len(laws) > 2:  # neighbours first, so that long ones are joined to long ones
        pairs = [laws[place : place + 2] for place in range(0, len(laws), 2)]
        laws = [reduce(_joined, pair) for pair in pairs]
    return reduce(_joined, laws)


def _joined(one: FloatArray, other: FloatArray) -> FloatArray:
    """The law of a sum. Long ones by Fourier transform, without what its rounding hides, over 7 spreads out."""
    if min(one.size, other.size) < _LONG:
        return np.convolve(one, other)
    size = one.size + other.size - 1
    law = np.fft.irfft(np.fft.rfft(one, size) * np.fft.rfft(other, size), size)
    return np.where(law > _ROUNDING * law.max(), law, 0.0)


def _binomial(total: int, share: float) -> FloatArray:
    ks = np.arange(total + 1)
    ways = special.gammaln(total + 1) - special.gammaln(ks + 1) - special.gammaln(total - ks + 1)
    law: FloatArray = np.exp(ways + special.xlogy(ks, share) + special.xlog1py(total - ks, -share))
    return law


def _solve(rising: Callable[[float], float]) -> float:
    """The ratio at which a rising function of it is 0, looked for on the log scale."""
    reach = 1.0
    while reach < _FURTHEST and not rising(math.exp(-reach)) < 0.0 < rising(math.exp(reach)):
        reach *= 2.0
    return math.exp(optimize.brentq(lambda log: rising(math.exp(log)), -reach, reach, xtol=1e-11, rtol=1e-12))
