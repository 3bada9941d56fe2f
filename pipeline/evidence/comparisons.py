"""Comparisons worked out anew: a month against the others, demands met, transports evened out and against luck.

The formulas stand here once more, on counts and microseconds that are added up from the base tables, not on figures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

from scipy import special

from pipeline.evidence.document import numbers
from pipeline.evidence.ground import Ground
from pipeline.evidence.scope import Lines, Number, derived
from pipeline.results import Scope
from pipeline.statistics import (
    benjamini_hochberg,
    gamma_poisson_shrinkage,
    poisson_prediction_limits,
    proportion_limits,
    rate_ratio,
)

BEFORE = "comparisons."
OF_RATES = ("protect_switches", "air_s")
OF_DEMANDS = ("demands_met", "demands")
AGAINST = "protect_switches and air_s of this {what} against those of {others} (exact conditional test and 95 % limits)"
OF_MONTHS = {
    "past": "the twelve months before together",
    "before": "the month before",
    "year_before": "the same month of the year before",
}
YEAR = 12
HOW = {
    "expected": "limits that hold 95 of 100 counts to come (exact Poisson prediction) in the month's air_s, at the "
    "rate of protect_switches and air_s of the twelve months before, or of all others while there are fewer",
    "demands_met": "demands_met / demands, with exact 95 % limits (Clopper–Pearson)",
    "evened": "protect_switches / air_s of each machine, drawn together by their likeness (gamma–Poisson), per 1,000 h",
    "worst_count": "the highest count of protect_switches of the machines with air time",
    "worst_by_luck": "1 − Π P(count < the highest), Poisson counts of all machines at the room's one rate",
    "shape": "the shape of the gamma distribution that evens the machines out; none where they do not differ",
}
HOUR = 3600.0
Unit = tuple[int, float]  # protect switches, air seconds


class ComparisonLines:
    """The figures ``comparisons.…`` of the whole site, of a month and of a machine."""

    def __init__(self, figures: Mapping[str, Any], ground: Ground) -> None:
        self._figures = figures
        self._ground = ground

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of the whole site, a month or a machine; nothing by anything else, or before they are made."""
        found = self._figures.get("comparisons")
        keys = tuple(scope.named)
        if not found or keys not in ((), ("month",), ("machine",)):
            return {}
        if keys == ("month",):
            entry: Mapping[str, Any] = next((each for each in found["months"] if each["month"] == scope.month), {})
        elif keys == ("machine",):
            entry = found["transports"]["machines"].get(scope.machine, {})
        else:
            entry = {name: value for name, value in found["transports"].items() if name != "machines"}
        return dict(numbers(entry, BEFORE))

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """How a comparison comes about."""
        name = figure.removeprefix(BEFORE)
        part = name.partition(".")[0]
        anew = self._months if scope.month else self._machines if scope.machine else {"": self._site}
        entry = anew[scope.month or scope.machine]
        total = dict(numbers(entry)).get(name)
        what = "month" if scope.month else "machine"
        others = OF_MONTHS.get(part) or f"all other {what}s together"
        how = HOW.get(part) or AGAINST.format(what=what, others=others)
        of = OF_DEMANDS if part == "demands_met" else OF_RATES
        of_scope = scope if part == "demands_met" else Scope()
        return derived(figure, scope, value, how=how, of=of, total=total, of_scope=of_scope)

    @cached_property
    def _months(self) -> dict[str, dict[str, Any]]:
        names = [entry["month"] for entry in self._figures["months"]]
        units = [self._unit(Scope(month=name)) for name in names]
        by_name = dict(zip(names, units, strict=True))
        against = _against_others(units)
        past = [_compare(unit, units[at - YEAR : at]) if at >= YEAR else None for at, unit in enumerate(units)]
        _adjust(past)
        return {
            name: {
                "others": against[place],
                "past": past[place],
                "before": _compare(units[place], [units[place - 1]]) if place else None,
                "year_before": _compare_with(units[place], by_name.get(f"{int(name[:4]) - 1:04}{name[4:]}")),
                "expected": _expected(past[place] or against[place], units[place]),
                "demands_met": self._demands_met(Scope(month=name)),
            }
            for place, name in enumerate(names)
        }

    @cached_property
    def _flown(self) -> dict[str, Unit]:
        units = {entry["machine"]: self._unit(Scope(machine=entry["machine"])) for entry in self._figures["machines"]}
        return {name: unit for name, unit in units.items() if unit[1] > 0}

    @cached_property
    def _machines(self) -> dict[str, dict[str, Any]]:
        units = list(self._flown.values())
        against = _against_others(units)
        evened = self._evened
        return {
            name: {
                "others": against[place],
                "evened": None
                if evened is None
                else {
                    part: 1000 * float(numbers[place])
                    for part, numbers in (("value", evened.mean), ("low", evened.low), ("high", evened.high))
                },
            }
            for place, name in enumerate(self._flown)
        }

    @cached_property
    def _evened(self) -> Any:
        units = list(self._flown.values())
        counts = [count for count, _ in units]
        return gamma_poisson_shrinkage(counts, [air_s / HOUR for _, air_s in units]) if sum(counts) else None

    @cached_property
    def _site(self) -> dict[str, Any]:
        units = list(self._flown.values())
        worst = max((count for count, _ in units), default=0)
        shape = None if self._evened is None or not math.isfinite(self._evened.shape) else float(self._evened.shape)
        return {"worst_count": worst, "worst_by_luck": _by_luck(worst, units), "shape": shape}

    def _unit(self, scope: Scope) -> Unit:
        return int(self._ground.value("protect_switches", scope)), float(self._ground.value("air_s", scope))

    def _demands_met(self, scope: Scope) -> dict[str, Any]:
        met, asked = (int(self._ground.value(name, scope)) for name in OF_DEMANDS)
        low, high = proportion_limits(met, asked)
        return {"ratio": met / asked if asked else None, "low": low, "high": high}


def _against_others(units: Sequence[Unit]) -> list[dict[str, Any] | None]:
    """Each unit against all the others, with p adjusted for the number of comparisons."""
    compared = [
        _compare(unit, [other for at, other in enumerate(units) if at != place]) for place, unit in enumerate(units)
    ]
    _adjust(compared)
    return compared


def _adjust(compared: Sequence[dict[str, Any] | None]) -> None:
    made = [entry for entry in compared if entry is not None]
    for entry, p in zip(made, benjamini_hochberg([entry["p"] for entry in made]) if made else (), strict=True):
        entry["adjusted_p"] = float(p)


def _compare_with(unit: Unit, other: Unit | None) -> dict[str, Any] | None:
    return None if other is None else _compare(unit, [other])


def _expected(base: Mapping[str, Any] | None, unit: Unit) -> dict[str, int] | None:
    if base is None:
        return None
    low, high = poisson_prediction_limits(base["count"], base["air_s"], unit[1])
    return {"low": low, "high": high}


def _compare(unit: Unit, others: Sequence[Unit]) -> dict[str, Any] | None:
    count, air_s = sum(other[0] for other in others), sum(other[1] for other in others)
    if air_s <= 0 or unit[1] <= 0:
        return None
    ratio, low, high, p = rate_ratio(unit[0], unit[1], count, air_s)
    return {
        "count": count,
        "air_s": air_s,
        "value": 1000 * HOUR * count / air_s,
        "ratio": ratio if math.isfinite(ratio) else None,
        "low": low,
        "high": high if math.isfinite(high) else None,
        "p": p,
    }


def _by_luck(worst: int, units: Sequence[Unit]) -> float | None:
    if worst < 1:
        return None
    hours = [air_s / HOUR for _, air_s in units]
    rate = sum(count for count, _ in units) / sum(hours)
    return 1 - math.prod(float(special.pdtr(worst - 1, rate * extent)) for extent in hours)
