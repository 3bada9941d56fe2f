"""What is believed of a rate that few events speak of: mean, limits, and the law that chances are drawn from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import optimize, special

from pipeline.statistics import gamma_poisson_shrinkage, hierarchical_rates, poisson_limits

TAIL = 0.025  # on either side of the 95 % limits
FEWEST = 4  # machines with exposure; with fewer, nothing says how far machines differ
MANY = 200  # with more, the spread between machines is known well enough to be taken as fitted
SHAPES = (1e-3, 1e9)  # of a gamma law, from limits that reach over all rates to limits that meet


@dataclass(frozen=True)
class RateLaw:
    """A rate: mean, 95 % limits, and its gamma law (shape, and rate parameter in units of exposure)."""

    mean: float
    low: float
    high: float
    shape: float
    rate: float


@dataclass(frozen=True)
class Evened:
    """The laws of all machines in the order given, and of a machine like them; ``fresh`` None: that of each itself."""

    machines: tuple[RateLaw, ...]
    fresh: RateLaw | None


def even(counts: Sequence[int], exposures: Sequence[float]) -> Evened:
    """The laws of the machines' rates, evened by each other over every spread between them that the counts allow.

    Means and limits are those of `hierarchical_rates`; the gamma law of each has its mean, and limits that are as far
    apart as a factor. A machine like the room's has the law of true rates as `gamma_poisson_shrinkage` fits it, or the
    room's one rate where it finds no spread: over every spread its mean need not be finite. With fewer than four
    machines nothing says how far they differ, and a new machine is taken to have the rate of the one it replaces. With
    more than ``MANY`` the spread is taken as fitted, on those with most exposure. Without any event all have the rate 0
    with its exact upper limit, and chances are drawn from Gamma(1/2, exposure), the posterior under Jeffreys' prior.

    ``exposures`` may not all be 0.
    """
    fitted = _as_fitted(counts, exposures)
    if not sum(counts) or len(counts) > MANY:
        return fitted
    found = hierarchical_rates(list(counts), list(exposures))
    rows = zip(found.mean, found.low, found.high, strict=True)
    has_fresh = sum(exposure > 0 for exposure in exposures) >= FEWEST
    fresh = fitted.fresh or fitted.machines[0]  # without spread the pooled law
    laws = tuple(
        _law(float(mean), float(low), float(high)) if exposure > 0 else fresh
        for (mean, low, high), exposure in zip(rows, exposures, strict=True)
    )
    return Evened(laws, fresh if has_fresh else None)


def _as_fitted(counts: Sequence[int], exposures: Sequence[float]) -> Evened:
    most = sorted(range(len(counts)), key=lambda place: -exposures[place])[:MANY]
    found = gamma_poisson_shrinkage([counts[place] for place in most], [exposures[place] for place in most])
    if math.isinf(found.shape):
        events, exposure = sum(counts), sum(exposures)
        low, high = poisson_limits(events, exposure)
        pooled = RateLaw(events / exposure, low, high, events + 0.5, exposure)
        return Evened((pooled,) * len(counts), None)
    laws = (_gamma(found.shape + n, found.rate + t) for n, t in zip(counts, exposures, strict=True))
    return Evened(tuple(laws), _gamma(found.shape, found.rate))


def _gamma(shape: float, rate: float) -> RateLaw:
    low, high = float(special.gammaincinv(shape, TAIL)), float(special.gammainccinv(shape, TAIL))
    return RateLaw(shape / rate, low / rate, high / rate, float(shape), float(rate))


def _law(mean: float, low: float, high: float) -> RateLaw:
    """The rate with these limits; the more the upper is of the lower, the smaller the shape of its gamma law."""
    wanted = math.log(high / low)

    def excess(log_shape: float) -> float:
        shape = math.exp(log_shape)
        ends = float(special.gammainccinv(shape, TAIL)), max(float(special.gammaincinv(shape, TAIL)), 1e-300)
        return math.log(ends[0] / ends[1]) - wanted

    shape = math.exp(float(optimize.brentq(excess, math.log(SHAPES[0]), math.log(SHAPES[1]), xtol=1e-10)))
    return RateLaw(mean, low, high, shape, shape / mean)
