"""A machine's clock against the house clock: is the true offset as near as `within_s` says?

An overstated clock makes "order not known" into a false order of events, so the half-width must cover the offset itself
under what rooms really log: a roll delay that varies, a tenth of the pairs grossly wrong, stamps cut to whole seconds.
"""

import numpy as np

from bench.coverage.claims import Claim, claim_at_least
from pipeline.statistics import theil_sen_clock
from pipeline.statistics.arguments import FloatArray

_MONTH_S = 30 * 86_400.0
_CASES = ((8, 0.0, 0.0), (20, 0.0, 1.0), (20, 0.1, 0.0), (60, 0.1, 1.0))  # pairs, share grossly wrong, step of stamps


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the half-width of the offset against clocks whose offset and drift are known."""
    draws = np.random.default_rng([seed, 5])
    return [_cover(draws, rooms, *case) for case in _CASES]


def _cover(draws: np.random.Generator, rooms: int, pairs: int, wrong: float, step_s: float) -> Claim:
    hits = sum(_covers(draws, pairs, wrong, step_s) for _ in range(rooms))
    stamps = f"stamps of {step_s:g} s" if step_s else "fine stamps"
    what = f"the offset of a clock is as near as said; {pairs} pairs, {wrong:.0%} of them grossly wrong, {stamps}"
    return claim_at_least(what, hits, rooms, 0.95)


def _covers(draws: np.random.Generator, pairs: int, wrong: float, step_s: float) -> bool:
    """Whether the offset at the last pair lies within the half-width; the roll delay varies from 0 to 0.4 s."""
    house = np.sort(draws.uniform(0.0, _MONTH_S, pairs))
    offset_s, drift = draws.uniform(-30.0, 30.0), draws.uniform(-20e-6, 20e-6)
    ahead = offset_s + drift * (house - house[-1])
    delay = draws.uniform(0.0, 0.4, pairs)
    gross = draws.uniform(size=pairs) < wrong
    delay[gross] += draws.uniform(5.0, 60.0, int(gross.sum()))
    fit = theil_sen_clock(_cut(house, step_s), _cut(house + ahead + delay, step_s))
    return abs(fit.offset_s - offset_s) <= fit.within_s


def _cut(stamps: FloatArray, step_s: float) -> FloatArray:
    return np.floor(stamps / step_s) * step_s if step_s else stamps
