"""The case in words: what the options are called, what the answer is, how sure it is, and what turns it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.costs import NUMBERS
from pipeline.render.language import decimal, say, say_counted
from pipeline.render.transports.case_inputs import CHANGES, amount, apart, named
from pipeline.render.words import capital, chance, figure, limits, listed, spoken

Machine = Mapping[str, Any]
KEEP = "keep"
OPTIONS = (KEEP, "overhaul", "replace", "lighter duty")


def option_word(option: str) -> str:
    """The name of an option in a table."""
    return {
        "keep": say("keep", about="option"),
        "overhaul": say("overhaul", about="option"),
        "replace": say("replace", about="option"),
        "lighter duty": say("lighter duty", about="option"),
    }[option]


def doing(option: str) -> str:
    """What an option does to a machine, as the subject of a sentence."""
    return {
        "keep": say("keeping it as it is"),
        "overhaul": say("overhauling it"),
        "replace": say("replacing it"),
        "lighter duty": say("giving it lighter duty"),
    }[option]


def noun(option: str) -> str:
    """An option as a thing to be had."""
    return {
        "keep": say("keeping"),
        "overhaul": say("an overhaul"),
        "replace": say("a new machine"),
        "lighter duty": say("lighter duty"),
    }[option]


def line_word(line: str) -> str:
    """The name of a line of an option's cost."""
    return {
        "price over its life": say("price over its life"),
        "air played elsewhere": say("air played elsewhere"),
        "labour": say("labour"),
        "parts on tickets": say("parts on tickets"),
        "changes": say("changes", about="of parts"),
        "on air": say("on air"),
        "exposed air": say("exposed air"),
    }[line]


def odds(probability: float) -> str:
    """A chance in whole percent, never 0 or 100: "87 %", "over 99 %", "under 1 %"."""
    if probability > 0.99:
        return say("over {most}", most="99 %")
    return say("under {least}", least="1 %") if probability < 0.01 else f"{decimal(100 * probability, 0)} %"


def yearly(option: Mapping[str, Any] | None) -> str:
    """An option's cost a year with its limits, whole; "not priced" where keys are missing."""
    if option is None or option["value"] is None:
        return say("not priced")
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
        return say(
            "Only keeping {machine} as it is can be priced, at {cost} {currency} a year.",
            machine=name,
            cost=yearly(of(machine, KEEP)),
            currency=currency,
        )
    other = machine["next"] if best == KEEP else KEEP
    first = say(
        "For {machine}, {doing} costs least: {cost} {currency} a year.",
        machine=name,
        doing=doing(best),
        cost=yearly(of(machine, best)),
        currency=currency,
    )
    second = say(
        "{doing} costs {more} more a year, {cost}.",
        doing=capital(doing(other)),
        more=figure(of(machine, other)["value"] - of(machine, best)["value"]),
        cost=yearly(of(machine, other)),
    )
    return f"{first} {second}"


def sureness(machine: Machine) -> str:
    """How sure the answer is, and what that leaves out."""
    return say(
        "The chance that this is the cheapest is {chance} over the rates of events on air and of tickets that the "
        "record allows. It takes every price and what an option achieves as stated, and what an event or a ticket "
        "brings at its mean.",
        chance=odds(machine["chances"][machine["best"]]),
    )


def standing(machine: Machine) -> str:
    """Whether the machine's own record sets it apart, so that nobody takes luck for a case."""
    compared = machine.get("comparison")
    if compared and compared["is_named"]:
        return say(
            "Its protect switches are {times} times what its hours and work would bring (adjusted {p}): more than luck "
            "easily gives.",
            times=figure(compared["ratio"]),
            p=chance(compared["adjusted_p"]),
        )
    return say(
        "Its own record does not set it apart from the others: the case rests on the room's rate more than on its own, "
        "and on its hours, its price and what the site states. Equal machines would get cases that differ like this."
    )


def turn(row: Mapping[str, Any], currency: str) -> str:
    """What it takes of one number to turn the answer: "an overhaul: 95,000 now; below 61,000, overhaul"."""
    name, ends = row["input"], []
    if row["below"] is not None:
        value = apart(name, row["below"], row["value"], currency)
        ends.append(say("below {value}, {option}", value=value, option=noun(row["below_option"])))
    if row["above"] is not None:
        value = apart(name, row["above"], row["value"], currency)
        ends.append(say("above {value}, {option}", value=value, option=noun(row["above_option"])))
    is_stated = row["is_within_limits"] is None and name in NUMBERS
    now = amount(name, row["value"], currency, is_stated=is_stated)
    return say("{name}: {value} now; {turns}", name=named(name), value=now, turns="; ".join(ends))


def turning(machine: Machine) -> list[Mapping[str, Any]]:
    """The numbers that can turn the answer alone, nearest first."""
    return [row for row in machine["flips"] if row["factor"] is not None]


def held(machine: Machine) -> list[str]:
    """The names of the numbers of which no allowed value turns the answer; of the parts with a life in one."""
    names = [row["input"] for row in machine["flips"] if row["factor"] is None]
    parts = [name for name in names if name.startswith(CHANGES)]
    told = [named(name) for name in names if name not in parts]
    return [*told, say("changes of {kinds} of parts", kinds=spoken(len(parts), "kind"))] if parts else told


def waiting(machine: Machine, currency: str) -> str:
    """What one and three years of keeping cost against the cheapest other option, as of today."""
    found = machine.get("waiting")
    if found is None:
        return say("What waiting costs is not known: that needs another option and costs.discount_rate.")
    return say(
        "Against {doing} now: {years}, all as of today. The rates are taken to stay.",
        doing=doing(found["against"]),
        years=listed([_keeping(row, currency) for row in found["years"]]),
    )


def _keeping(row: Mapping[str, Any], currency: str) -> str:
    if row["low"] * row["high"] > 0:
        reach = limits(*sorted(abs(row[end]) for end in ("low", "high")))
    else:
        low, high = sorted((row["low"], row["high"]))
        reach = say("from a saving of {saving} to a cost of {cost}", saving=figure(-low), cost=figure(high))
    told = f"{figure(abs(row['value']))} {currency} ({reach})"
    years = row["years"]
    if row["value"] > 0:
        return say_counted(
            "{n} year of keeping costs {amount}", "{n} years of keeping costs {amount}", years, amount=told
        )
    return say_counted("{n} year of keeping saves {amount}", "{n} years of keeping saves {amount}", years, amount=told)
