"""The case in words: what the numbers are called, what the answer is, how sure it is, and what turns it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pipeline.costs import NUMBERS
from pipeline.render.words import capital, chance, counted, figure, limits, listed, share, spoken

Machine = Mapping[str, Any]
KEEP = "keep"
DOING = {
    "keep": "keeping it as it is",
    "overhaul": "overhauling it",
    "replace": "replacing it",
    "lighter duty": "giving it lighter duty",
}
NOUN = {"keep": "keeping", "overhaul": "an overhaul", "replace": "a new machine", "lighter duty": "lighter duty"}
PERCENT, MONEY = "%", "money"
# Every number a case may be made of: its name on a page, and its unit.
INPUTS = {
    "discount_rate": ("discount rate, a year", PERCENT),
    "labour_per_h": ("an hour of work on a ticket", MONEY),
    "lost_per_s": ("one lost second of air", MONEY),
    "make_good": ("making good an event that failed", MONEY),
    "response": ("answering one protect switch", MONEY),
    "exposed_per_h": ("an hour of exposed air", MONEY),
    "replacement": ("a new machine", MONEY),
    "replacement_life_years": ("life of a new machine", "years"),
    "replacement_rate_ratio": ("a new machine's rate of failures, as a share of the room's", ""),
    "overhaul": ("an overhaul", MONEY),
    "overhaul_life_years": ("how long an overhaul holds", "years"),
    "overhaul_rate_ratio": ("rate of failures after an overhaul, as a share of today's", ""),
    "lighter_air_ratio": ("share of air hours that stays under lighter duty", PERCENT),
    "lighter_per_air_h": ("an air hour played elsewhere", MONEY),
    "events_per_1000_h": ("events on air per 1,000 air h, evened", ""),
    "fresh_events_per_1000_h": ("events per 1,000 air h of a machine like the room's", ""),
    "tickets_per_year": ("tickets a year, evened", ""),
    "fresh_tickets_per_year": ("tickets a year of a machine like the room's", ""),
    "lost_s_per_event": ("air lost in an event, mean of the room", "s"),
    "failed_ratio": ("share of events that failed", PERCENT),
    "switches_per_event": ("protect switches in an event", ""),
    "labour_h_per_ticket": ("work on a ticket, mean of the room", "h"),
    "parts_per_ticket": ("parts on a ticket, mean of the room", MONEY),
    "air_h_per_year": ("air hours a year", "h"),
    "exposed_h_per_year": ("exposed air a year", "h"),
    "head_h_per_year": ("hours of heads on tape a year", "h"),
    "trend_ratio": ("the year ahead against the time so far: its trend stands", ""),
}
CHANGES = "changes: "
# What each missing key would bring, besides whole options.
BRINGS = {
    "labour_per_h": "what work on tickets costs",
    "lost_per_s": "what lost seconds cost",
    "make_good": "what failed events cost",
    "response": "what answering protect switches costs",
    "exposed_per_h": "what exposed air costs (not everywhere has a price)",
    "discount_rate": "what waiting costs",
}


def named(name: str) -> str:
    """The name of a number on a page."""
    if name.startswith(CHANGES):
        return f"changes of {name.removeprefix(CHANGES).removesuffix(' per 1000 h')}, per 1,000 h of use"
    return INPUTS[name][0]


def amount(name: str, value: float | None, currency: str, *, is_stated: bool = False) -> str:
    """A number with its unit, as in "45.2 crowns", "5.0 %" or "0.80"; one that is stated, as it was stated."""
    if value is None:
        return "not known"
    return _with_unit(name, value, currency, 0 if is_stated else 3)


def _with_unit(name: str, value: float, currency: str, digits: int) -> str:
    """The number as the pages write it (digits 3), with that many digits that count, or with all it has (digits 0)."""
    unit = MONEY if name.startswith(CHANGES) else INPUTS[name][1]
    scaled = 100 * value if unit == PERCENT else value
    if digits == 3:
        text = share(value, 1.0).removesuffix(" %") if unit == PERCENT else figure(value)
    else:
        text = f"{scaled:,.6f}".rstrip("0").rstrip(".") if digits == 0 else f"{scaled:,.{_places(scaled, digits)}f}"
    return f"{text} {currency if unit == MONEY else unit}".rstrip()


def _places(value: float, digits: int) -> int:
    return max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0


def apart(name: str, value: float, now: float, currency: str) -> str:
    """A number with its unit, with as many digits as it takes to tell it from ``now``, at most nine."""
    for digits in range(3, 10):
        text = _with_unit(name, value, currency, digits)
        if text != _with_unit(name, now, currency, digits):
            return text
    return f"just beside {_with_unit(name, value, currency, 3)}"


def odds(probability: float) -> str:
    """A chance in whole percent, never 0 or 100: "87 %", "over 99 %", "under 1 %"."""
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def yearly(option: Mapping[str, Any] | None) -> str:
    """An option's cost a year with its limits, whole; "not priced" where keys are missing."""
    if option is None or option["value"] is None:
        return "not priced"
    if option["low"] == option["high"]:
        return figure(option["value"])
    return f"{figure(option['value'])} ({limits(option['low'], option['high'])})"


def of(machine: Machine, option: str) -> Mapping[str, Any]:
    """The row of an option."""
    return next(row for row in machine["options"] if row["option"] == option)


def answer(machine: Machine, currency: str) -> str:
    """Which option is cheapest for the machine and by how much, in a sentence or two."""
    best, name = machine["best"], machine["machine"]
    if machine["next"] is None:
        return f"Only keeping {name} as it is can be priced, at {yearly(of(machine, KEEP))} {currency} a year."
    other = machine["next"] if best == KEEP else KEEP
    more = of(machine, other)["value"] - of(machine, best)["value"]
    return (
        f"For {name}, {DOING[best]} costs least: {yearly(of(machine, best))} {currency} a year. "
        f"{capital(DOING[other])} costs {figure(more)} more a year, {yearly(of(machine, other))}."
    )


def sureness(machine: Machine) -> str:
    """How sure the answer is, and what that leaves out."""
    return (
        f"The chance that this is the cheapest is {odds(machine['chances'][machine['best']])} over the rates of events "
        "on air and of tickets that the record allows. It takes every price and what an option achieves as stated, and "
        "what an event or a ticket brings at its mean."
    )


def standing(machine: Machine) -> str:
    """Whether the machine's own record sets it apart, so that nobody takes luck for a case."""
    compared = machine.get("comparison")
    if compared and compared["is_named"]:
        return (
            f"Its protect switches are {figure(compared['ratio'])} times what its hours and work would bring (adjusted "
            f"{chance(compared['adjusted_p'])}): more than luck easily gives."
        )
    return (
        "Its own record does not set it apart from the others: the case rests on the room's rate more than on its own, "
        "and on its hours, its price and what the site states. Equal machines would get cases that differ like this."
    )


def turn(row: Mapping[str, Any], currency: str) -> str:
    """What it takes of one number to turn the answer: "an overhaul: 95,000 now; below 61,000, overhaul"."""
    name = row["input"]
    ends = [
        f"{side} {apart(name, row[side], row['value'], currency)}, {NOUN[row[f'{side}_option']]}"
        for side in ("below", "above")
        if row[side] is not None
    ]
    is_stated = row["is_within_limits"] is None and name in NUMBERS
    return f"{named(name)}: {amount(name, row['value'], currency, is_stated=is_stated)} now; {'; '.join(ends)}"


def turning(machine: Machine) -> list[Mapping[str, Any]]:
    """The numbers that can turn the answer alone, nearest first."""
    return [row for row in machine["flips"] if row["factor"] is not None]


def held(machine: Machine) -> list[str]:
    """The names of the numbers of which no allowed value turns the answer; of the parts with a life in one."""
    names = [row["input"] for row in machine["flips"] if row["factor"] is None]
    parts = [name for name in names if name.startswith(CHANGES)]
    told = [named(name) for name in names if name not in parts]
    return [*told, f"changes of {spoken(len(parts), 'kind')} of parts"] if parts else told


def waiting(machine: Machine, currency: str) -> str:
    """What one and three years of keeping cost against the cheapest other option, as of today."""
    found = machine.get("waiting")
    if found is None:
        return "What waiting costs is not known: that needs another option and costs.discount_rate."
    told = []
    for row in found["years"]:
        ends = sorted(abs(row[end]) for end in ("low", "high"))
        between = f" ({limits(*ends)})" if row["low"] * row["high"] > 0 else f" (from {_signed(row)})"
        does = "costs" if row["value"] > 0 else "saves"
        told.append(
            f"{counted(row['years'], 'year')} of keeping {does} {figure(abs(row['value']))} {currency}{between}"
        )
    return f"Against {DOING[found['against']]} now: {listed(told)}, all as of today. The rates are taken to stay."


def _signed(row: Mapping[str, Any]) -> str:
    low, high = sorted((row["low"], row["high"]))
    return f"a saving of {figure(-low)} to a cost of {figure(high)}"
