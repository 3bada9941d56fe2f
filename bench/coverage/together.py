"""Pairs whose shared cause is known: whether its limits hold it, and whether pairs that fail apart are left alone.

The rooms go through the judging of the page itself: onsets and times good in, shares and names out.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_near
from pipeline.measure.coincidences import COINCIDENCE_S, MICROSECONDS, Faults
from pipeline.measure.intervals import Stretches, joined
from pipeline.measure.transports.together.counts import to_us
from pipeline.measure.transports.together.measuring import judge_together
from pipeline.statistics import poisson_at_least
from pipeline.statistics.arguments import FloatArray

_BASE = datetime(2031, 1, 1)  # noqa: DTZ001 - rows carry naive UTC
_PAIRS = (("A1", "A2"), ("B1", "B2"))
_SECONDS = 720_000.0  # 200 h of each pair on duty
_RATE = 0.1 / 3600.0  # each machine fails about 20 times in them
_BACK_S = 300.0
_BAD_PART = 0.1
_BAD_WEIGHT = 5 * _BAD_PART / (5 * _BAD_PART + 1 - _BAD_PART)  # of the faults, where the rate is five times as high
_APART_S = 1.0  # a shared cause strikes the second machine at most so much later


@dataclass(frozen=True)
class _Machine:
    onsets: list[float]
    ends: list[float]

    def running(self) -> Stretches:
        edges = np.array([[0.0, *self.ends], [*self.onsets, _SECONDS]]) * MICROSECONDS
        begins, stops = np.round(edges).astype(np.int64) + to_us(_BASE)
        return joined(begins, stops)


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Two pairs a room; the room's share is held against the share its faults were drawn with."""
    draws = np.random.default_rng([seed, 7])
    claims = []
    for share in (0.0, 0.02, 0.1, 0.3):
        found = [_judge(draws, share) for _ in range(rooms)]
        case = f"two pairs, 200 h, 20 failures a machine, {share:.0%} of them shared"
        inside = sum(one["room"]["share"]["low"] <= share <= one["room"]["share"]["high"] for one in found)
        claims.append(claim_at_least(f"95 % limits of the shared-cause share cover it; {case}", inside, rooms, 0.95))
        named = sum(bool(one["room"]["is_named"] or one["named"]) for one in found)
        if share:
            hits = sum(one["room"]["is_named"] for one in found)
            claims.append(claim_near(f"the room is found to fail together; {case}", hits, rooms, _power(share)))
        else:
            claims.append(claim_at_most(f"anything on the page is named; {case}", named, rooms, 0.05))
    uneven = [_judge(draws, 0.0, _BAD_WEIGHT) for _ in range(rooms)]
    named = sum(bool(one["room"]["is_named"] or one["named"]) for one in uneven)
    case = "the same, none shared, but all machines fail five times as often in one hour of ten"
    return [*claims, claim_at_most(f"anything on the page is named; {case}", named, rooms, 0.05)]


def _power(share: float) -> float:
    """The exact chance of a double or more, shared or by luck: one is enough to be named here.

    Luck brings two pairs 2 · (20 / 720,000 s)² · 10 s · 720,000 s = 0.011 doubles, so one double has p = 0.011 in the
    room and half of that in its pair. With three tests its adjusted p is 0.017, below 0.05. A shared cause is a double
    only where both machines ran well.
    """
    well = 1.0 / (1.0 + _RATE * _BACK_S)
    by_luck = len(_PAIRS) * (_RATE * _SECONDS) ** 2 * 2.0 * COINCIDENCE_S / _SECONDS
    return poisson_at_least(1, by_luck + len(_PAIRS) * share * _RATE * _SECONDS * well * well)


def _judge(draws: np.random.Generator, share: float, bad: float = _BAD_PART) -> dict[str, Any]:
    whole = np.array([to_us(_BASE), to_us(_BASE) + int(_SECONDS) * MICROSECONDS])
    onsets: list[dict[str, Any]] = []
    running: dict[str, Stretches] = {}
    for pair in _PAIRS:
        for name, machine in zip(pair, _draw_pair(draws, share, bad), strict=True):
            running[name] = machine.running()
            onsets += [{"machine": name, "at_utc": _instant(second)} for second in machine.onsets]
    together = dict.fromkeys(_PAIRS, joined(whole[:1], whole[1:]))
    return judge_together(Faults(tuple(onsets), running, together), set(_PAIRS))


def _draw_pair(draws: np.random.Generator, share: float, bad: float) -> tuple[_Machine, _Machine]:
    """Faults of their own at (1 - share) of the rate, and shared ones at share of it that take what runs."""
    own, shared = (1.0 - share) * _RATE, share * _RATE
    events: list[tuple[float, tuple[int, ...]]] = []
    kinds: list[tuple[float, tuple[int, ...]]] = [(own, (0,)), (own, (1,)), (shared, (0, 1))]
    for rate, struck in kinds:
        events += [(second, struck) for second in _draw_times(draws, rate, bad)]
    pair = (_Machine([], []), _Machine([], []))
    for second, struck in sorted(events):
        for place in struck:
            machine = pair[place]
            late = place * draws.uniform(0.0, _APART_S) if len(struck) > 1 else 0.0
            if second + late < _SECONDS and (not machine.ends or second >= machine.ends[-1]):
                machine.onsets.append(second + late)
                machine.ends.append(min(_SECONDS, second + late + draws.exponential(_BACK_S)))
    return pair


def _draw_times(draws: np.random.Generator, rate: float, bad: float) -> list[float]:
    """Seconds of faults; the part `bad` of them falls in the first tenth of the time, at any moment of it."""
    count, edge = draws.poisson(rate * _SECONDS), _BAD_PART * _SECONDS
    is_bad = draws.uniform(0.0, 1.0, count) < bad
    times: FloatArray = np.where(is_bad, draws.uniform(0.0, edge, count), draws.uniform(edge, _SECONDS, count))
    return [float(second) for second in times]


def _instant(second: float) -> datetime:
    return _BASE + timedelta(microseconds=round(second * MICROSECONDS))
