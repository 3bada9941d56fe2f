"""Lives and times to recover, some of them cut short: limits of the median and of a Weibull life.

All of these limits are those of large samples. The likelihood ones stay near their level down to a handful of failures;
the Wald ones do not claim to.
"""

from collections.abc import Callable

import numpy as np

from bench.coverage.claims import Claim, claim_between
from pipeline.statistics import WeibullFit, kaplan_meier, weibull_fit
from pipeline.statistics.arguments import BoolArray, FloatArray

_SCALE_H = 1_000.0
_Lives = tuple[FloatArray, BoolArray]
_TRUE = {"shape": 2.0, "scale": _SCALE_H, "b10": _SCALE_H * (-np.log(0.9)) ** 0.5}


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the limits of lives against lives whose law is known."""
    draws = np.random.default_rng([seed, 4])
    return [
        *(_cover_median(draws, rooms, *case) for case in ((10, 0.0), (20, 0.3), (50, 0.3))),
        *(claim for lives in (20, 60) for claim in _cover_life(draws, rooms, lives, "wald")),
        *_cover_life(draws, rooms, 10, "likelihood"),
    ]


def _cover_median(draws: np.random.Generator, rooms: int, lives: int, cut: float) -> Claim:
    """Times of recovery, exponential with mean 1; a share `cut` of them is cut short by an exponential of its own."""
    inside = 0
    for _ in range(rooms):
        curve = kaplan_meier(*_cut_short(draws, draws.exponential(size=lives), cut))
        low, high = curve.low, curve.high
        inside += (low is None or low <= np.log(2.0)) and (high is None or np.log(2.0) <= high)
    what = f"95 % limits of a median cover it; {lives} times, {cut:.0%} of them cut short"
    return claim_between(what, inside, rooms, 0.93, 0.97)


def _cut_short(draws: np.random.Generator, times: FloatArray, share: float) -> _Lives:
    """Exponential cuts at the rate that ends this share of unit exponential times first."""
    cuts = draws.exponential((1.0 - share) / share, times.size) if share else np.full(times.size, np.inf)
    return np.minimum(times, cuts), times <= cuts


def _cover_life(draws: np.random.Generator, rooms: int, lives: int, method: str) -> list[Claim]:
    """Parts of Weibull life, shape 2, half of them taken out running at an age of their own."""
    fits = [weibull_fit(*_draw_lives(draws, lives), method=method) for _ in range(rooms)]
    case = f"{lives} parts, half of them failed, {method} limits"
    return [
        claim_between(f"95 % limits of the {name} of a life cover it; {case}", _count(fits, name), rooms, 0.93, 0.97)
        for name in _TRUE
    ]


def _draw_lives(draws: np.random.Generator, lives: int) -> _Lives:
    """Life and cut have one law, so that half are cut; at least two failures, or there is no life to fit."""
    while True:
        ends, cuts = _SCALE_H * draws.weibull(2.0, (2, lives))
        if (ends <= cuts).sum() >= 2:
            return np.minimum(ends, cuts), ends <= cuts


def _count(fits: list[WeibullFit], name: str) -> int:
    reads: Callable[[WeibullFit, str], float] = getattr
    return sum(reads(fit, f"{name}_low") <= _TRUE[name] <= reads(fit, f"{name}_high") for fit in fits)
