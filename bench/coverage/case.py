"""The case: whether the limits of a year's cost on air hold the truth, and whether a stated chance is a chance.

Rooms of eight machines, with events on air and tickets, go through the doors the database's records go through. Of each
room one machine is looked at, drawn blindly, so that looks are independent.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from bench.coverage.claims import Claim, claim_at_most, claim_between
from pipeline.costs import Costs
from pipeline.measure.transports.case.judging import chances, judge_options
from pipeline.measure.transports.case.measuring import build_cases
from pipeline.measure.transports.case.options import EVENTS, KEEP, OVERHAUL, TICKETS, totals
from pipeline.measure.transports.case.records import Record
from pipeline.measure.transports.case.values import Case
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.settings import THRESHOLDS, Settings
from pipeline.statistics.arguments import FloatArray

_MACHINES = 8
_AIR_H = 500.0  # of each machine in the year that is watched
_LOST_S = 5.0  # mean of an event
_ROOM_RATE = 20.0  # events per 1,000 h
_ROOM_TICKETS = 8.0  # a year, of an hour each
_HEAVY = 1.5  # spread of the logarithm of lost seconds where they have a tail
_COSTS = Costs(
    "units", discount_rate=0.05, labour_per_h=7.0, lost_per_s=1.0, overhaul=110.0, overhaul_life_years=4.0,
    overhaul_rate_ratio=0.7,
)  # fmt: skip
_SITE = Settings(
    "Room",
    "UTC",
    "00:00",
    25.0,
    sync_tolerance_s=0.04,
    show_persons=False,
    costs=_COSTS,
    language="en",
    locale="en-GB",
    months="calendar",
    **THRESHOLDS,  # type: ignore[arg-type] # floats, every one
)


@dataclass(frozen=True)
class _Look:
    """A machine of a simulated room: its case, and its true rates of events per 1,000 h and of tickets a year."""

    case: Case
    rate: float
    tickets: float


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the limits of the cost on air and the chance of the answer against rooms whose rates are known.

    A room takes long here, so that a tenth or a fifth of those asked for have to do.
    """
    draws = np.random.default_rng([seed, 8])
    few, more = max(1, rooms // 10), max(1, rooms // 5)
    equal = [_look(draws, _alike(), spread=0.0) for _ in range(few)]
    unlike = [_look(draws, _apart(draws), spread=0.0) for _ in range(more)]
    heavy = [_look(draws, _alike(), spread=_HEAVY) for _ in range(few)]
    what = "limits of a machine's yearly cost on air cover it"
    return [
        claim_between(f"{what}; eight machines alike", _covered(equal), few, 0.94, 1.0),
        claim_between(f"{what}; machines that differ", _covered(unlike), more, 0.92, 0.97),
        claim_at_most(f"{what}; lost seconds with a heavy tail, which they leave out", _covered(heavy), few, 0.9),
        *_chances_kept(unlike),
    ]


def _alike() -> tuple[FloatArray, FloatArray]:
    return np.full(_MACHINES, _ROOM_RATE), np.full(_MACHINES, _ROOM_TICKETS)


def _apart(draws: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Rates of events and of tickets, half of their mean apart, independently of each other."""
    return draws.gamma(4.0, _ROOM_RATE / 4.0, _MACHINES), draws.gamma(4.0, _ROOM_TICKETS / 4.0, _MACHINES)


def _look(draws: np.random.Generator, rates: tuple[FloatArray, FloatArray], *, spread: float) -> _Look:
    events, tickets = draws.poisson(rates[0] * _AIR_H / 1000), draws.poisson(rates[1])
    records = [
        replace(_record(draws, place, int(events[place]), spread), **_ticketed(int(tickets[place])))
        for place in range(_MACHINES)
    ]
    looked_at = int(draws.integers(_MACHINES))
    case = build_cases(records, HOURS_A_YEAR, _SITE, {})[looked_at]
    return _Look(case, float(rates[0][looked_at]), float(rates[1][looked_at]))


def _record(draws: np.random.Generator, place: int, count: int, spread: float) -> Record:
    """One machine's year; lost seconds log-normal with the mean ``_LOST_S``, or all alike where spread is 0."""
    lost = draws.lognormal(np.log(_LOST_S) - spread**2 / 2, spread, count) if spread else np.full(count, _LOST_S)
    return Record(
        f"VT{place + 1}", air_h=_AIR_H, exposed_h=0.0, events=count, switches=count, failed=0, healed=0,
        lost_s=float(lost.sum()), longest_s=float(lost.max(initial=0.0)), tickets=0, labour_count=0, labour_h=0.0,
        priced_count=0, parts_cost=0.0, with_part_count=0,
    )  # fmt: skip


def _ticketed(count: int) -> dict[str, Any]:
    """An hour on every ticket, and no part."""
    return {"tickets": count, "labour_count": count, "labour_h": float(count)}


def _covered(looks: list[_Look]) -> int:
    return sum(_covers(look) for look in looks)


def _covers(look: _Look) -> bool:
    """The line on air of keeping: its limits against true rate x hours x true mean loss."""
    keep = judge_options(look.case.values, look.case.laws)["options"][0]
    line = next(row for row in keep["lines"] if row["line"] == "on air")
    return bool(line["low"] <= look.rate * _AIR_H / 1000 * _LOST_S <= line["high"])


def _chances_kept(looks: list[_Look]) -> list[Claim]:
    """Among rooms in three classes of the chance stated: how often the answer was the truly cheapest option.

    Held against the mean of the chances stated in the class, which differs from seed to seed.
    """
    stated, right = np.empty(len(looks)), np.empty(len(looks), dtype=bool)
    for place, look in enumerate(looks):
        stated[place], right[place] = _answer(look)
    claims = []
    for low, high in ((0.5, 0.75), (0.75, 0.95), (0.95, 1.0)):
        chosen = (stated >= low) & ((stated < high) | (high == 1.0))
        if chosen.any():
            mean = float(stated[chosen].mean())
            what = f"the answer is right where its chance is stated as {100 * low:.0f} to {100 * high:.0f} %"
            hits, rooms = int(right[chosen].sum()), int(chosen.sum())
            claims.append(claim_between(what, hits, rooms, max(0.0, mean - 0.05), min(1.0, mean + 0.05)))
    return claims


def _answer(look: _Look) -> tuple[float, bool]:
    """The chance stated of the answer, and whether it is the cheapest at the true rates."""
    costs = totals(look.case.values)
    true = totals({**look.case.values, EVENTS: look.rate, TICKETS: look.tickets, "lost_s_per_event": _LOST_S})
    best = min(costs, key=lambda option: costs[option])
    return chances(look.case.values, look.case.laws)[best], true[best] == min(true[KEEP], true[OVERHAUL])
