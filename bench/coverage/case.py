"""The case: whether the limits of a year's cost on air hold the truth, and whether a stated chance is a chance.

Rooms of eight machines go through the doors the database's records go through. Of each room one machine is looked at,
drawn blindly, so that looks are independent.
"""

from dataclasses import dataclass

import numpy as np

from bench.coverage.claims import Claim, claim_between
from pipeline.costs import Costs
from pipeline.measure.transports.case.judging import chances, judge_options
from pipeline.measure.transports.case.measuring import build_cases
from pipeline.measure.transports.case.options import EVENTS, KEEP, OVERHAUL, totals
from pipeline.measure.transports.case.records import HOURS_A_YEAR, Record
from pipeline.measure.transports.case.values import Case
from pipeline.settings import THRESHOLDS, Settings
from pipeline.statistics.arguments import FloatArray

_MACHINES = 8
_AIR_H = 500.0  # of each machine in the year that is watched
_LOST_S = 5.0  # mean of an event
_ROOM_RATE = 20.0  # events per 1,000 h
_HEAVY = 1.5  # spread of the logarithm of lost seconds where they have a tail
_COSTS = Costs(
    "units", discount_rate=0.05, lost_per_s=1.0, overhaul=50.0, overhaul_life_years=4.0, overhaul_rate_ratio=0.7
)
_SITE = Settings("Room", "UTC", "00:00", 25.0, sync_tolerance_s=0.04, show_persons=False, costs=_COSTS, **THRESHOLDS)


@dataclass(frozen=True)
class _Look:
    """A machine of a simulated room: its case, and the true rate of its events per 1,000 h."""

    case: Case
    rate: float


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the limits of the cost on air and the chance of the answer against rooms whose rates are known.

    A room takes long here, so that a quarter or half of those asked for have to do.
    """
    draws = np.random.default_rng([seed, 8])
    few, more = max(1, rooms // 4), max(1, rooms // 2)
    equal = [_look(draws, np.full(_MACHINES, _ROOM_RATE), spread=0.0) for _ in range(few)]
    unlike = [_look(draws, draws.gamma(4.0, _ROOM_RATE / 4.0, _MACHINES), spread=0.0) for _ in range(more)]
    heavy = [_look(draws, np.full(_MACHINES, _ROOM_RATE), spread=_HEAVY) for _ in range(few)]
    what = "limits of a machine's yearly cost on air cover it"
    return [
        claim_between(f"{what}; eight machines alike", _covered(equal), few, 0.94, 1.0),
        claim_between(f"{what}; machines that differ", _covered(unlike), more, 0.92, 0.97),
        claim_between(f"{what}; lost seconds with a heavy tail, which they leave out", _covered(heavy), few, 0.5, 0.95),
        *_chances_kept(unlike),
    ]


def _look(draws: np.random.Generator, rates: FloatArray, *, spread: float) -> _Look:
    counts = draws.poisson(rates * _AIR_H / 1000)
    records = [_record(draws, place, int(count), spread) for place, count in enumerate(counts)]
    looked_at = int(draws.integers(_MACHINES))
    return _Look(build_cases(records, HOURS_A_YEAR, _SITE, {})[looked_at], float(rates[looked_at]))


def _record(draws: np.random.Generator, place: int, count: int, spread: float) -> Record:
    """One machine's year; lost seconds log-normal with the mean ``_LOST_S``, or all alike where spread is 0."""
    lost = draws.lognormal(np.log(_LOST_S) - spread**2 / 2, spread, count) if spread else np.full(count, _LOST_S)
    return Record(
        f"VT{place + 1}", air_h=_AIR_H, exposed_h=0.0, events=count, switches=count, failed=0, healed=0,
        lost_s=float(lost.sum()), longest_s=float(lost.max(initial=0.0)), tickets=0, labour_count=0, labour_h=0.0,
        priced_count=0, parts_cost=0.0, with_part_count=0,
    )  # fmt: skip


def _covered(looks: list[_Look]) -> int:
    return sum(_covers(look) for look in looks)


def _covers(look: _Look) -> bool:
    """Keeping has no line but the one on air: its limits against true rate x hours x true mean loss."""
    keep = judge_options(look.case.values, look.case.laws)["options"][0]
    return bool(keep["low"] <= look.rate * _AIR_H / 1000 * _LOST_S <= keep["high"])


def _chances_kept(looks: list[_Look]) -> list[Claim]:
    """Among rooms in three classes of the chance stated: how often the answer was the truly cheapest option."""
    stated, right = np.empty(len(looks)), np.empty(len(looks), dtype=bool)
    for place, look in enumerate(looks):
        found = chances(look.case.values, look.case.laws)
        costs, true = (
            totals(look.case.values),
            totals({**look.case.values, EVENTS: look.rate, "lost_s_per_event": _LOST_S}),
        )
        best = min(costs, key=lambda option: costs[option])
        stated[place] = found[best]
        right[place] = true[best] == min(true[KEEP], true[OVERHAUL])
    claims = []
    for low, high in ((0.5, 0.75), (0.75, 0.95), (0.95, 1.01)):
        chosen = (stated >= low) & (stated < high)
        if chosen.any():
            mean = float(stated[chosen].mean())
            what = f"the answer is right where its chance is stated as {100 * mean:.0f} % on average"
            claims.append(
                claim_between(
                    what, int(right[chosen].sum()), int(chosen.sum()), max(0.0, mean - 0.05), min(1.0, mean + 0.05)
                )
            )
    return claims
