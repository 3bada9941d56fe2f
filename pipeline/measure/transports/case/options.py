"""What keeping a machine, overhauling it, replacing it or giving it lighter duty costs a year, line by line.

The arithmetic alone: named numbers go in, lines come out. A number that is not there leaves out the lines or the option
that need it; nothing is put in its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pipeline.statistics import equivalent_annual_cost

Values = Mapping[str, float]
KEEP, OVERHAUL, REPLACE, LIGHTER = "keep", "overhaul", "replace", "lighter duty"
NEEDS = {
    KEEP: (),
    OVERHAUL: ("discount_rate", "overhaul", "overhaul_life_years", "overhaul_rate_ratio"),
    REPLACE: ("discount_rate", "replacement", "replacement_life_years"),
    LIGHTER: ("lighter_air_ratio", "lighter_per_air_h"),
}
EVENTS, FRESH_EVENTS = "events_per_1000_h", "fresh_events_per_1000_h"
TICKETS, FRESH_TICKETS = "tickets_per_year", "fresh_tickets_per_year"
# The price of an event on air, and how many of what it is the price of go on one event.
ON_AIR = {"lost_per_s": "lost_s_per_event", "make_good": "failed_ratio", "response": "switches_per_event"}
CHANGES = "changes: "


@dataclass(frozen=True)
class Line:
    """One line of a year's cost: ``amount``, or ``amount`` for each one of the rate ``driver``."""

    name: str
    amount: float
    driver: str = ""

    def at(self, values: Values) -> float:
        """The amount a year at these values; a driver of a new machine that is not there is that of this one."""
        return self.amount * rate_of(self.driver, values) if self.driver else self.amount


def rate_of(driver: str, values: Values) -> float:
    """The rate ``driver``; a new machine without a rate of its own has the one of the machine it replaces."""
    own = {FRESH_EVENTS: EVENTS, FRESH_TICKETS: TICKETS}.get(driver, driver)
    return values[driver] if driver in values else values[own]


def missing_for(option: str, values: Values) -> list[str]:
    """The keys of ``[costs]`` without which the option cannot be priced."""
    return [name for name in NEEDS[option] if name not in values]


def priced(values: Values) -> dict[str, list[Line]]:
    """The lines of every option that can be priced. The formulas stand in docs/transports/case.md."""
    return {option: list(_lines(option, values)) for option in NEEDS if not missing_for(option, values)}


def totals(values: Values) -> dict[str, float]:
    """Cost a year of every option that can be priced."""
    return {option: sum(line.at(values) for line in lines) for option, lines in priced(values).items()}


def _lines(option: str, values: Values) -> Iterator[Line]:
    yield from _price(option, values)
    failures, is_fresh = _failures(option, values), option == REPLACE
    tickets = FRESH_TICKETS if is_fresh else TICKETS
    if "labour_per_h" in values and "labour_h_per_ticket" in values:
        yield Line("labour", failures * values["labour_h_per_ticket"] * values["labour_per_h"], tickets)
    if "parts_per_ticket" in values:
        yield Line("parts on tickets", failures * values["parts_per_ticket"], tickets)
    stays = values["lighter_air_ratio"] if option == LIGHTER else 1.0
    yield from _changes(stays, values)
    per_event = [values[price] * values[share] for price, share in ON_AIR.items() if {price, share} <= set(values)]
    if per_event:
        trend = 1.0 if is_fresh else values.get("trend_ratio", 1.0)
        slope = failures * trend * stays * values["air_h_per_year"] / 1000 * sum(per_event)
        yield Line("on air", slope, FRESH_EVENTS if is_fresh else EVENTS)
    if "exposed_per_h" in values:
        yield Line("exposed air", stays * values["exposed_h_per_year"] * values["exposed_per_h"])


def _price(option: str, values: Values) -> Iterator[Line]:
    if option in (OVERHAUL, REPLACE):
        price, life = (
            ("overhaul", "overhaul_life_years") if option == OVERHAUL else ("replacement", "replacement_life_years")
        )
        yield Line("price over its life", equivalent_annual_cost(values[price], values["discount_rate"], values[life]))
    if option == LIGHTER:
        moved = (1.0 - values["lighter_air_ratio"]) * values["air_h_per_year"]
        yield Line("air played elsewhere", moved * values["lighter_per_air_h"])


def _failures(option: str, values: Values) -> float:
    """What the option makes of the rate of failures, on air and on tickets alike."""
    if option == OVERHAUL:
        return values["overhaul_rate_ratio"]
    return values.get("replacement_rate_ratio", 1.0) if option == REPLACE else 1.0


def _changes(stays: float, values: Values) -> Iterator[Line]:
    """Parts with a life of their own: they wear with the hours heads are on tape, of which moved air takes its own."""
    if "head_h_per_year" not in values:
        return
    hours = max(0.0, values["head_h_per_year"] - (1.0 - stays) * values["air_h_per_year"])
    for name, cost in values.items():
        if name.startswith(CHANGES):
            yield Line(name.removesuffix(" per 1000 h"), hours / 1000 * cost)
