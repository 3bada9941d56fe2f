"""The comparison of care, in rooms whose truth is known: no effect, a planted one, and one that only seems to be.

Eight machines with rates of their own, sixteen mixes of care each; a room has the hours and events of three months.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from bench.coverage.claims import Claim, claim_at_least, claim_at_most, claim_between
from pipeline.measure.transports.care.comparison import (
    ITEMS,
    LESS,
    MORE,
    NOT_RECORDED,
    Groups,
    compare_items,
    find_power,
)
from pipeline.statistics import poisson_regression, rate_ratio, stratified_rate_ratio
from pipeline.statistics.arguments import FloatArray, IntArray

_MACHINES = 8
_DUTY_H = 1_400.0
_EVENTS = 120.0
_LESS_SHARES = (0.15, 0.25, 0.6, 0.5)  # of the hours, in the order of ITEMS
_UNCLEANED = 2.5


@dataclass(frozen=True)
class _Mixes:
    """Hours and mean events of every machine (rows) and mix of care (columns); ``is_less``: item by mix."""

    hours: FloatArray
    means: FloatArray
    is_less: IntArray


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold names, limits and what "could have shown" means against rooms with a known effect of care."""
    draws = np.random.default_rng([seed, 10])
    return [
        _false_names(draws, rooms),
        _planted(draws, rooms),
        _shown(draws, max(1, rooms // 5)),
        *(claim for expected in (5.0, 20.0) for claim in _cover(draws, rooms, expected)),
        *_confounded(draws, rooms),
    ]


def _draw_mixes(draws: np.random.Generator, ratio: float) -> _Mixes:
    """Machines differ in rate (about 1 to 4) and in how often each kind of care is given; uncleaned hours have `ratio`.

    The mean events of a room are the same whatever the ratio's hours, so that only the effect differs.
    """
    is_less = np.array([[mix >> place & 1 for mix in range(16)] for place in range(len(ITEMS))])
    shares = draws.beta(4.0 * np.array(_LESS_SHARES), 4.0 * (1.0 - np.array(_LESS_SHARES)), (_MACHINES, len(ITEMS)))
    mix = np.ones((_MACHINES, 16))
    for place in range(len(ITEMS)):
        mix *= np.where(is_less[place], shares[:, place, None], 1.0 - shares[:, place, None])
    hours = mix * _DUTY_H / _MACHINES
    rates = draws.gamma(4.0, 0.25, _MACHINES)[:, None] * np.where(is_less[0], ratio, 1.0)
    return _Mixes(hours, rates * hours * _EVENTS / _DUTY_H, is_less)


def _group(draws: np.random.Generator, mixes: _Mixes) -> dict[str, Groups]:
    events = draws.poisson(mixes.means)
    nothing = np.zeros(_MACHINES)
    return {
        item: Groups(
            {LESS: events @ is_less, MORE: events @ (1 - is_less), NOT_RECORDED: nothing.astype(np.int64)},
            {LESS: mixes.hours @ is_less, MORE: mixes.hours @ (1 - is_less), NOT_RECORDED: nothing},
            {LESS: 0, MORE: 0, NOT_RECORDED: 0},
        )
        for item, is_less in zip(ITEMS, mixes.is_less, strict=True)
    }


def _judge(draws: np.random.Generator, mixes: _Mixes) -> list[dict[str, Any]]:
    return compare_items(_group(draws, mixes))


def _false_names(draws: np.random.Generator, rooms: int) -> Claim:
    named = sum(any(row["is_named"] for row in _judge(draws, _draw_mixes(draws, 1.0))) for _ in range(rooms))
    what = "some kind of care is named though none makes a difference; eight machines with rates of their own"
    return claim_at_most(what, named, rooms, 0.05)


def _planted(draws: np.random.Generator, rooms: int) -> Claim:
    found = sum(_names_cleaning(_judge(draws, _draw_mixes(draws, _UNCLEANED))) for _ in range(rooms))
    what = f"cleaning is named where uncleaned hours have {_UNCLEANED:g} times the events; 15 % of hours uncleaned"
    return claim_at_least(what, found, rooms, 0.8)


def _shown(draws: np.random.Generator, rooms: int) -> Claim:
    """A room without an effect prints what it could have shown; the same room is played again with that effect."""
    found = told = 0
    for _ in range(rooms):
        mixes = _draw_mixes(draws, 1.0)
        ratio = find_power(_group(draws, mixes)["clean"], len(ITEMS))["could_show_ratio"]
        if ratio is None:  # such a room prints that it could have shown nothing
            continue
        again = _Mixes(mixes.hours, mixes.means * np.where(mixes.is_less[0], ratio, 1.0), mixes.is_less)
        told, found = told + 1, found + _names_cleaning(_judge(draws, again))
    what = "cleaning is named where uncleaned hours have the ratio that the page says it could have shown"
    return claim_between(what, found, told, 0.75, 0.85)


def _names_cleaning(items: list[dict[str, Any]]) -> bool:
    return bool(items[0]["is_named"])


def _cover(draws: np.random.Generator, rooms: int, expected: float) -> list[Claim]:
    """One kind of care in one ratio, `expected` events with less of it and twice as many with more."""
    exact = fitted = 0
    for _ in range(rooms):
        hours = draws.uniform(0.5, 1.5, (2, _MACHINES))
        rates = draws.gamma(4.0, 0.25, _MACHINES)
        means = rates * hours
        means *= np.array([[expected], [2.0 * expected]]) / means.sum(axis=1, keepdims=True)
        true = (means[0] / hours[0] / (means[1] / hours[1]))[0]  # of all machines the same
        less, more = draws.poisson(means)
        _, low, high, _ = stratified_rate_ratio(less, hours[0], more, hours[1])
        exact += low <= true <= high
        names = [str(place) for place in range(_MACHINES)] * 2
        fit = poisson_regression(
            np.concatenate([less, more]), hours.ravel(), {"less": np.repeat([1, 0], _MACHINES)}, strata=names
        )
        fitted += fit.low[0] <= true <= fit.high[0]
    case = f"{expected:g} events expected with less care, {2 * expected:g} with more"
    return [
        claim_at_least(f"exact 95 % limits of the ratio inside machines cover it; {case}", exact, rooms, 0.95),
        claim_between(f"95 % limits of the regression cover the ratio; {case}", fitted, rooms, 0.93, 0.97),
    ]


def _confounded(draws: np.random.Generator, rooms: int) -> list[Claim]:
    """Two of eight machines have four times the rate and are cleaned in 40 % of their hours, the others in 90 %."""
    hours_h = _DUTY_H / _MACHINES
    is_bad = np.arange(_MACHINES) < 2
    uncleaned = np.where(is_bad, 0.6, 0.1) * hours_h
    rates = np.where(is_bad, 4.0, 1.0) * _EVENTS / _DUTY_H
    raw = inside = 0
    for _ in range(rooms):
        less, more = draws.poisson(rates * uncleaned), draws.poisson(rates * (hours_h - uncleaned))
        _, low, high, _ = rate_ratio(int(less.sum()), uncleaned.sum(), int(more.sum()), (hours_h - uncleaned).sum())
        raw += low <= 1.0 <= high
        _, low, high, _ = stratified_rate_ratio(less, uncleaned, more, hours_h - uncleaned)
        inside += low <= 1.0 <= high
    case = "cleaning does nothing and bad machines are cleaned less"
    return [
        claim_at_least(f"95 % limits inside machines cover 1; {case}", inside, rooms, 0.95),
        claim_at_most(f"95 % limits of all machines together cover 1; {case}", raw, rooms, 0.05),
    ]
