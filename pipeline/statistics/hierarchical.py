"""Rates of several machines evened out, when it is not known how far true rates differ.

`gamma_poisson_shrinkage` takes the fitted spread between machines as the truth. With four or ten machines that spread
is hardly known, and the likeliest one is often none at all; limits that rest on it leave out the truth two or three
times as often as they say. Here every spread that the counts allow is given its weight.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray
from pipeline.statistics.limits import poisson_limits
from pipeline.statistics.shrinkage import chance_highest, likeliest_common

LogPrior = Callable[[FloatArray, FloatArray], FloatArray]

_NODES = 24  # of the quadrature, in shape and in common rate
_NODES_RANKED = 8  # and for the probability to be the highest, which is wanted to three decimals
_RATE_REACH = 3.0  # standard deviations of the log rate that the inner half of these nodes spans, about
_FARTHEST = 300.0  # of a log rate from the likeliest; reached at spreads that no count bears out
_LEAST = 1e-7  # combinations of spread and rate that weigh less than this of the heaviest are left out
_LEAST_RANKED = 1e-3
_ROUNDS = 30


@dataclass(frozen=True, eq=False)
class HierarchicalRates:
    """Posterior of each unit's rate; arrays of shape (n,), in the order given, events per unit of exposure."""

    mean: FloatArray
    low: FloatArray  # equal-tailed posterior limits
    high: FloatArray

    def columns(self) -> dict[str, FloatArray]:
        """The arrays by name, one row a unit, ready for a data frame."""
        return dict(vars(self))


@dataclass(frozen=True, eq=False)
class _Laws:
    """Gamma laws of true rates that the counts allow, one a row: shape, rate parameter and weight; weights sum to 1."""

    shape: FloatArray
    rate: FloatArray
    weight: FloatArray

    def heavier(self, least: float) -> "_Laws":
        kept = self.weight > least * self.weight.max()
        weight = self.weight[kept]
        return _Laws(self.shape[kept], self.rate[kept], weight / weight.sum())


def hierarchical_rates(counts: ArrayLike, exposures: ArrayLike, confidence: float = 0.95) -> HierarchicalRates:
    """Rates evened out over every spread between units that the counts allow, with limits that hold for few units too.

    As in `gamma_poisson_shrinkage` count_i is Poisson(lambda_i t_i) and lambda_i ~ Gamma(shape, rate). Shape and rate
    are not fitted but averaged over, each pair weighed by its likelihood and prior. The prior is uniform on
    B = shape / (shape + mean count), the weight that the common rate has in the rate of a unit with the mean count, so
    that every degree of evening out is as likely beforehand; and uniform on the log of the common rate, shape / rate.
    Given shape and rate a unit's posterior is Gamma(shape + count_i, rate + t_i); the posterior is their mixture, by
    Gauss-Legendre quadrature in both, to about two thousandths of the common rate.

    Assumes counts that are Poisson given the units' rates, and units that are alike beforehand. Where no unit has an
    event the spread cannot be seen: all get the pooled rate, 0, with its exact Poisson limits.

    Args:
        counts: events of each unit, whole numbers, shape (n,), n >= 1.
        exposures: exposure of each unit, shape (n,); 0 only where the count is 0, some above 0.
        confidence: two-sided level of the limits.

    Returns:
        HierarchicalRates. A unit without exposure gets the law of true rates as its posterior; where few units show a
        rate that law reaches very far, and so may its mean.

    Raises:
        ValueError: a count or exposure is negative, not finite or not whole, they do not pair up, all exposure is 0, a
            count stands where exposure is 0, confidence is outside (0, 1).

    Reference: Christiansen and Morris (1997), JASA 92:618-632 (the model and the uniform prior of the weight).
    """
    events, exposure = arguments.counts_and_exposures(counts, exposures)
    tail = arguments.tail(confidence)
    if not events.any():
        return _no_event(events.size, float(exposure.sum()), confidence)
    laws = weigh_laws(events, exposure, _even_weight(float(events.mean())), _NODES)
    a, b = laws.shape[:, None] + events, laws.rate[:, None] + exposure
    mean = laws.weight @ (a / b)
    spread = np.sqrt(laws.weight @ (a / b**2 + (a / b) ** 2) - mean**2)
    low, high = (_find_quantile(a, b, laws.weight, share, (mean / spread) ** 2) for share in (tail, 1.0 - tail))
    return HierarchicalRates(mean, low, high)


def hierarchical_worst(counts: ArrayLike, exposures: ArrayLike) -> FloatArray:
    """Probability that each unit's rate is the highest, over every spread that the counts allow.

    The model and prior of `hierarchical_rates`; given shape and rate the probability is a quadrature over the units'
    gamma laws, and it is averaged over shape and rate at fewer points, to about three decimals.

    Args:
        counts: as there.
        exposures: as there.

    Returns:
        Shape (n,), in the order given, sums to 1. Without any event all are 1/n.

    Raises:
        ValueError: as there.

    Reference: as there.
    """
    events, exposure = arguments.counts_and_exposures(counts, exposures)
    if not events.any():
        return np.full(events.size, 1.0 / events.size)
    laws = weigh_laws(events, exposure, _even_weight(float(events.mean())), _NODES_RANKED).heavier(_LEAST_RANKED)
    ranked = (
        weight * chance_highest(shape + events, rate + exposure)
        for shape, rate, weight in zip(laws.shape, laws.rate, laws.weight, strict=True)
    )
    return np.asarray(sum(ranked))


def weigh_laws(events: FloatArray, exposure: FloatArray, log_prior: LogPrior, nodes: int) -> _Laws:
    """The laws of true rates at the nodes of the quadrature, with their posterior weights.

    `log_prior` takes shapes and common rates and gives the log of the prior's density in (ln shape, ln common rate).
    """
    middle, bounds = float(events.mean()), (0.0, 1.0)
    points, weights = np.polynomial.legendre.leggauss(nodes)
    for _ in range(2):  # the second time only where the first found weight
        half = (bounds[1] - bounds[0]) / 2.0
        share = bounds[0] + half * (1.0 + points)
        shape = middle * share / (1.0 - share)
        rows = [_weigh_rates(one, events, exposure, log_prior, nodes) for one in shape]
        common, log_weight = (np.array(part) for part in zip(*rows, strict=True))
        log_weight = log_weight + np.log(half * weights / (share * (1.0 - share)))[:, None]
        bounds = _narrow(bounds, share, log_weight)
    weight = np.exp(log_weight - log_weight.max())
    shapes = np.broadcast_to(shape[:, None], common.shape)
    return _Laws(shapes.ravel(), (shapes / common).ravel(), weight.ravel()).heavier(_LEAST)


def _weigh_rates(
    shape: float, events: FloatArray, exposure: FloatArray, log_prior: LogPrior, nodes: int
) -> tuple[FloatArray, FloatArray]:
    """Common rates round the likeliest at one shape, and the logs of their weights in (ln shape, ln common rate)."""
    points, weights = np.polynomial.legendre.leggauss(nodes)
    best = likeliest_common(shape, events, exposure)
    expected = best * exposure
    width = 1.0 / math.sqrt(float(((shape + events) * expected * shape / (shape + expected) ** 2).sum()))
    away = _RATE_REACH * width * points / (1.0 - points**2)  # the whole line
    stretch = _RATE_REACH * width * (1.0 + points**2) / (1.0 - points**2) ** 2
    common = best * np.exp(np.clip(away, -_FARTHEST, _FARTHEST))
    mean = common[:, None] * exposure
    rising = float((special.gammaln(shape + events) - special.gammaln(shape) - events * math.log(shape)).sum())
    fit = rising + (special.xlogy(events, mean) - (shape + events) * np.log1p(mean / shape)).sum(axis=1)
    return common, fit + log_prior(np.full(common.shape, shape), common) + np.log(stretch * weights)


def _narrow(bounds: tuple[float, float], share: FloatArray, log_weight: FloatArray) -> tuple[float, float]:
    """The bounds between the nodes next to those that weigh anything."""
    of_share = np.logaddexp.reduce(log_weight, axis=1)
    heavy = np.flatnonzero(of_share > of_share.max() + math.log(_LEAST))
    edges = np.concatenate([[bounds[0]], share, [bounds[1]]])
    return float(edges[heavy[0]]), float(edges[heavy[-1] + 2])


def _even_weight(middle: float) -> LogPrior:
    """Uniform on shape / (shape + middle), and on the log of the common rate."""

    def log_density(shape: FloatArray, _common: FloatArray) -> FloatArray:
        return np.asarray(np.log(shape * middle) - 2.0 * np.log(shape + middle))

    return log_density


def _find_quantile(a: FloatArray, b: FloatArray, weight: FloatArray, share: float, matched: FloatArray) -> FloatArray:
    """Quantile of each unit's mixture of gammas, from that of the gamma law with its mean and variance, by Newton.

    On the log of the rate and the probit of the share the distribution function is nearly a straight line.
    """
    mean = weight @ (a / b)
    at = np.log(np.maximum(special.gammaincinv(matched, share) * mean / matched, 1e-12 * mean))
    target = float(special.ndtri(share))
    for _ in range(_ROUNDS):
        scaled = b * np.exp(at)
        below = np.clip(weight @ special.gammainc(a, scaled), 1e-300, 1.0 - 1e-16)
        density = weight @ np.exp(a * np.log(scaled) - scaled - special.gammaln(a))
        probit = special.ndtri(below)
        slope = density * math.sqrt(2.0 * math.pi) * np.exp(probit**2 / 2.0)
        step = np.clip((target - probit) / np.maximum(slope, 1e-6), -2.0, 2.0)
        at = at + step
        if float(np.abs(step).max()) < 1e-9:
            break
    return np.asarray(np.exp(at))


def _no_event(n: int, exposure: float, confidence: float) -> HierarchicalRates:
    low, high = poisson_limits(0, exposure, confidence)
    return HierarchicalRates(*(np.full(n, value) for value in (0.0, low, high)))
