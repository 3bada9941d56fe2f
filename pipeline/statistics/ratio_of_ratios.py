"""Is one ratio of rates larger than another? Exact, with everything that lifts both dropped out.

A machine's own tapes may fail more elsewhere than on itself, because the others play worse or because it records off.
Only the comparison with how other tapes fare on the same two sides tells the one from the other.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray
from pipeline.statistics.placement import bernoulli_sum_law

_FURTHEST = 100.0  # of a log ratio
Strata = tuple[ArrayLike, ArrayLike, ArrayLike, ArrayLike]


@dataclass(frozen=True)
class RatioOfRatios:
    """The first ratio over the second, its limits, and the chance of so much or more if they were one."""

    ratio: float  # conditional maximum likelihood; 0 or infinite at the ends, NaN where nothing is told
    low: float
    high: float
    p: float  # one-sided: of the first being larger


def ratio_of_ratios(first: Strata, second: Strata, confidence: float = 0.95) -> RatioOfRatios:
    """Exact comparison of a ratio a : b common to the strata of `first` with one common to the strata of `second`.

    Stratum i has events x_i in a over exposure s_i and y_i in b over t_i. Given n_i = x_i + y_i, x_i is binomial with
    odds r s_i / t_i, r the ratio of its set. The sums X1 and X2 of both sets have r1 and r2 as their only parameters;
    given X1 + X2, the law of X1 is w1(k) w2(X1 + X2 − k) psi^k, scaled, with psi = r1 / r2 and w the laws at ratio 1.
    With one stratum in each set and equal exposures this is Fisher's exact test of a two-by-two table, and the limits
    are Cornfield's.

    Assumes Poisson counts, independent, one ratio in all strata of a set. Strata without an event, or with exposure on
    one side only, say nothing and are left out.

    Args:
        first: counts_a, exposures_a, counts_b, exposures_b, each of shape (n,); exposure 0 only where the count is 0.
        second: the same of the other set.
        confidence: two-sided level of the limits.

    Returns:
        RatioOfRatios; where only one value of X1 is possible the ratio is NaN, the limits 0 and infinity, p 1.

    Raises:
        ValueError: a count or exposure is negative, not finite or not whole, they do not pair up, a count stands where
            exposure is 0, confidence is outside (0, 1).

    Reference: Cox and Snell (1989), Analysis of Binary Data, 2.1 and 2.3; Zelen (1971), Biometrika 58:129-137.
    """
    tail = arguments.tail(confidence)
    (seen, ours), (other, theirs) = _law(first), _law(second)
    total = seen + other
    least, most = max(0, total - theirs.size + 1), min(ours.size - 1, total)
    if least == most:
        return RatioOfRatios(math.nan, 0.0, math.inf, 1.0)
    values = np.arange(least, most + 1)
    with np.errstate(divide="ignore"):
        logs = np.log(ours[values]) + np.log(theirs[total - values])

    def above(psi: float) -> float:
        return float(_tilted(logs, values, psi)[values >= seen].sum())

    def below(psi: float) -> float:
        return float(_tilted(logs, values, psi)[values <= seen].sum())

    low = _solve(lambda psi: above(psi) - tail) if seen > least else 0.0
    high = _solve(lambda psi: tail - below(psi)) if seen < most else math.inf
    ratio = 0.0 if seen == least else math.inf
    if least < seen < most:
        ratio = _solve(lambda psi: float(_tilted(logs, values, psi) @ values) - seen)
    return RatioOfRatios(ratio, low, high, min(above(0.0), 1.0))


def _law(strata: Strata) -> tuple[int, FloatArray]:
    """The events in a, and the law of their number at ratio 1, over the strata that tell."""
    names = ("counts_a", "exposures_a", "counts_b", "exposures_b")
    pairs = zip(names, strata, strict=True)
    counts_a, time_a, counts_b, time_b = (arguments.not_negative(name, values) for name, values in pairs)
    for name, values in (("exposures_a", time_a), ("counts_b", counts_b), ("exposures_b", time_b)):
        arguments.same_length("counts_a", counts_a, name, values)
    for counts, exposure in ((counts_a, time_a), (counts_b, time_b)):
        if (counts != np.round(counts)).any() or ((exposure == 0.0) & (counts > 0.0)).any():
            raise arguments.refuse("counts", counts, "whole numbers, 0 where nothing ran")
    telling = (counts_a + counts_b > 0) & (time_a > 0) & (time_b > 0)
    shares = time_a[telling] / (time_a[telling] + time_b[telling])
    totals = (counts_a + counts_b)[telling].astype(np.int64)
    return int(counts_a[telling].sum()), bernoulli_sum_law(np.repeat(shares, totals))


def _tilted(logs: FloatArray, values: np.ndarray, log_psi: float) -> FloatArray:
    exponents = logs + values * log_psi
    return np.asarray(np.exp(exponents - special.logsumexp(exponents)))


def _solve(rising: Callable[[float], float]) -> float:
    """The ratio whose log is where a rising function of it is 0."""
    return math.exp(optimize.brentq(rising, -_FURTHEST, _FURTHEST, xtol=1e-11, rtol=1e-12))
