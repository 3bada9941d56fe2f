"""From the costs of a machine's options to an answer: the cheapest, how sure, what waiting costs, what turns it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from scipy import special

from pipeline.costs import ALLOWED, MOST_MONEY, NUMBERS
from pipeline.measure.transports.case.laws import RateLaw
from pipeline.measure.transports.case.options import (
    EVENTS,
    FRESH_EVENTS,
    FRESH_TICKETS,
    KEEP,
    NEEDS,
    REPLACE,
    TICKETS,
    Line,
    Values,
    missing_for,
    priced,
    totals,
)
from pipeline.statistics import break_even, chance_cheapest, present_value

Laws = Mapping[str, RateLaw]
WAITS = (1, 3)  # years
SHARES = ("failed_ratio",)
DRAWN = ((EVENTS, FRESH_EVENTS), (TICKETS, FRESH_TICKETS))  # a machine's rate and that of a new one
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


def judge_options(values: Values, laws: Laws) -> dict[str, Any]:
    """Options, the cheapest at the means, and what waiting costs. ``laws``: those of the drivers in ``values``.

    Each option has its cost a year (``value``), its lines, and limits that put every rate it hangs on at its lower or
    upper 95 % limit together, so they hold at least as often; what is stated as a price has none. ``missing`` names the
    keys an option that cannot be priced waits for.
    """
    lines = priced(values)
    costs = totals(values)
    order = sorted(costs, key=lambda option: (costs[option], list(NEEDS).index(option)))
    return {
        "options": [_option(option, lines.get(option), values, laws) for option in NEEDS],
        "best": order[0],
        "next": order[1] if len(order) > 1 else None,
        "waiting": _waiting(values, lines, laws),
    }


def _option(option: str, lines: list[Line] | None, values: Values, laws: Laws) -> dict[str, Any]:
    missing = missing_for(option, values)
    if lines is None:
        return {"option": option, "value": None, "low": None, "high": None, "lines": [], "missing": missing}
    rows = [{"line": line.name, **_limits([line], values, laws)} for line in lines]
    return {"option": option, **_limits(lines, values, laws), "lines": rows, "missing": missing}


def _limits(lines: list[Line], values: Values, laws: Laws) -> dict[str, float]:
    """Sum of lines, and with every driver at the end of its limits that makes it least, or most.

    The slopes of one driver are added first, so that of a difference only what does not cancel is uncertain.
    """
    slopes: dict[str, float] = {}
    for line in lines:
        driver = _known(line.driver, laws)
        slopes[driver] = slopes.get(driver, 0.0) + line.amount
    fixed = slopes.pop("", 0.0)
    ends = [sorted((slope * laws[driver].low, slope * laws[driver].high)) for driver, slope in slopes.items()]
    return {
        "value": sum(line.at(values) for line in lines),
        "low": fixed + sum(end[0] for end in ends),
        "high": fixed + sum(end[1] for end in ends),
    }


def _known(driver: str, laws: Laws) -> str:
    """The driver, or where a new machine has no law of its own, the one of the machine it replaces."""
    return driver if driver in laws else driver.removeprefix("fresh_")


def _waiting(values: Values, lines: Mapping[str, list[Line]], laws: Laws) -> dict[str, Any] | None:
    """What a year or three of keeping cost as of now against the cheapest other option; below 0, waiting saves."""
    others = {option: sum(line.at(values) for line in rows) for option, rows in lines.items() if option != KEEP}
    if not others or "discount_rate" not in values:
        return None
    against = min(others, key=lambda option: others[option])
    gap = _limits(
        [*lines[KEEP], *(Line(line.name, -line.amount, line.driver) for line in lines[against])], values, laws
    )
    rate = values["discount_rate"]
    years = [{"years": n, **{name: present_value(end, rate, n) for name, end in gap.items()}} for n in WAITS]
    return {"against": against, "years": years}


def chances(values: Values, laws: Laws) -> dict[str, float]:
    """The chance that each option is the cheapest, with the rates of events on air and of tickets drawn.

    Each rate is drawn from its law, independently, and so are those of a new machine from the laws of the room's
    machines; where such a law is not known its rate is the machine's own. What an event loses and a ticket takes stands
    at its mean. Over the rate whose luck costs more as in ``chance_cheapest``, over the other by Gauss-Legendre
    quadrature on the share of its law: so what is summed is smooth.
    """
    lines = priced(values)
    inner, outer = sorted(DRAWN, key=lambda pair: _luck(lines[KEEP], pair[0], laws), reverse=True)
    slopes = [sum(line.amount for line in rows if line.driver in inner) for rows in lines.values()]
    law, fresh = laws[inner[0]], laws.get(inner[1])
    other = (list(lines).index(REPLACE), fresh.shape, fresh.rate) if fresh is not None and REPLACE in lines else None
    found = np.zeros(len(lines))
    for rates, weight in _outer_rates(lines, outer, laws):
        at = {**values, **rates}
        fixed = [sum(line.at(at) for line in rows if line.driver not in inner) for rows in lines.values()]
        found += weight * chance_cheapest(fixed, slopes, (law.shape, law.rate), other)
    return {option: float(chance) for option, chance in zip(lines, found, strict=True)}


def _luck(rows: list[Line], driver: str, laws: Laws) -> float:
    """The standard deviation that the luck in a rate gives to the cost of these lines."""
    slope = sum(line.amount for line in rows if line.driver == driver)
    return slope * math.sqrt(laws[driver].shape) / laws[driver].rate


def _outer_rates(
    lines: Mapping[str, list[Line]], drivers: tuple[str, str], laws: Laws
) -> Iterator[tuple[dict[str, float], float]]:
    """Rates of a machine and of a new one that stand for their laws, each with its weight."""
    needed = {line.driver for rows in lines.values() for line in rows}
    drawn = [name for name in drivers if name in needed and name in laws]
    at = [special.gammaincinv(laws[name].shape, (1.0 + _NODES) / 2.0) / laws[name].rate for name in drawn]
    for places in itertools.product(range(_NODES.size), repeat=len(drawn)):
        rates = {name: float(own[place]) for name, own, place in zip(drawn, at, places, strict=True)}
        yield rates, math.prod(float(_WEIGHTS[place]) / 2.0 for place in places)


def flips(values: Values, within: Mapping[str, tuple[float, float]]) -> list[dict[str, Any]]:
    """For each number alone: the nearest values below and above it at which another option becomes the cheapest.

    Searched over every value site.toml allows, of what is measured from 0 to 1e12 (shares to 1). None: none does.
    Sorted by how little it takes, as a factor; what turns nothing stands last, by name. ``within``: the 95 % limits of
    what is measured, so that the reader sees whether a turn lies inside them.
    """
    costs = totals(values)
    if len(costs) < 2:
        return []
    best = min(costs, key=lambda option: costs[option])
    rows = [_flip(name, values, best, within.get(name)) for name in values]
    return sorted(rows, key=lambda row: (row["factor"] is None, row["factor"] or 0.0, row["input"]))


def _flip(name: str, values: Values, best: str, limits: tuple[float, float] | None) -> dict[str, Any]:
    def margin(x: float) -> float:
        costs = totals({**values, name: x})
        return min(cost for option, cost in costs.items() if option != best) - costs[best]

    now = values[name]
    below, above = break_even(margin, now, *_range(name, now))
    ends = [end for end in (below, above) if end is not None]
    factors = [_factor(now, end) for end in ends]
    return {
        "input": name,
        "value": now,
        "low": limits[0] if limits else None,
        "high": limits[1] if limits else None,
        "below": below,
        "below_option": _cheapest_other(values, name, below, best),
        "above": above,
        "above_option": _cheapest_other(values, name, above, best),
        "factor": min((factor for factor in factors if factor is not None), default=None),
        "is_within_limits": any(limits[0] <= end <= limits[1] for end in ends) if limits else None,
    }


def _range(name: str, now: float) -> tuple[float, float]:
    if name in NUMBERS:
        low, high, _ = ALLOWED[NUMBERS[name]]
        return (min(now, 0.01), high) if NUMBERS[name] == "years" else (low, high)
    return 0.0, max(now, 1.0 if name in SHARES else MOST_MONEY)


def _factor(now: float, end: float) -> float | None:
    """How far the turn is: 2 is twice or half. From or to 0 no factor leads, so it counts as the farthest there is."""
    if now == end:
        return 1.0
    return math.exp(abs(math.log(end / now))) if now > 0.0 and end > 0.0 else MOST_MONEY


def _cheapest_other(values: Values, name: str, end: float | None, best: str) -> str | None:
    if end is None:
        return None
    costs = totals({**values, name: end})
    return min((option for option in costs if option != best), key=lambda option: costs[option])
