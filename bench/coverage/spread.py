"""Rates of machines that really differ, each pulled towards the common one: do their limits cover the true rates?

The limits looked at here take the fitted spread between machines as known. That is nearly right with many machines and
too bold with a handful. One machine a room, drawn blindly, is counted: the machines of one room share the fit, so they
are not independent.
"""

import math
from collections.abc import Callable

import numpy as np

from bench.coverage.claims import Claim, claim_between
from pipeline.statistics import HierarchicalRates, ShrunkenRates, gamma_poisson_shrinkage
from pipeline.statistics.arguments import FloatArray, IntArray

_COMMON = 4.0  # true rates have this mean, events per 1,000 h
_CASES = ((4, 2.0), (10, 8.0), (24, 2.0))  # machines, shape of the law of true rates

Even = Callable[[IntArray, FloatArray], HierarchicalRates | ShrunkenRates]


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the rates evened out by the fitted spread against rooms whose true rates are known."""
    way = "spread taken as fitted"
    return [
        cover_evened(np.random.default_rng([seed, 2, place]), rooms, case, (way, gamma_poisson_shrinkage))
        for place, case in enumerate(_CASES)
    ]


def cover_evened(draws: np.random.Generator, rooms: int, case: tuple[int, float], way: tuple[str, Even]) -> Claim:
    """Exposures from 500 to 4,000 h: 2 to 16 events expected of a machine of the common rate."""
    machines, shape = case
    hits = sum(_covers(draws, machines, shape, way[1]) for _ in range(rooms))
    apart = f"{machines} machines, true rates {1 / math.sqrt(shape):.0%} apart"
    what = f"95 % limits of an evened-out rate cover the true one; {apart}, {way[0]}"
    return claim_between(what, hits, rooms, 0.93, 0.97)


def _covers(draws: np.random.Generator, machines: int, shape: float, even: Even) -> bool:
    rates = draws.gamma(shape, _COMMON / shape, machines)
    hours = draws.uniform(0.5, 4.0, machines)
    fit = even(draws.poisson(rates * hours), hours)
    one = int(draws.integers(0, machines))
    return bool(fit.low[one] <= rates[one] <= fit.high[one])
