"""The case of the whole room in words: the answer, how sure it is, what it hangs on, and what record is behind it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.costs import NUMBERS
from pipeline.render.language import decimal, localised, say
from pipeline.render.transports.case_inputs import amount, apart, named
from pipeline.render.transports.case_words import KEEP, Machine, noun, odds, of, turn, turning
from pipeline.render.words import capital, duration, figure, limits, listed, spoken

PLACES = range(5)  # decimals of a percentage, until it is told from another


def room_answer(machines: Sequence[Machine]) -> str:
    """The cheapest option of all machines with a case and by how much, in a sentence."""
    groups: dict[str, list[str]] = {}
    for machine in machines:
        groups.setdefault(machine["best"], []).append(machine["machine"])
    priced = [machine for machine in machines if machine["next"] is not None]
    by = _margin(priced)
    if set(groups) == {KEEP}:
        if not priced:
            return say(
                "Only keeping the machines as they are can be priced: the site states no price of another option."
            )
        return _keep_all(machines, by)
    parts = [
        say("{option} for {machines}", option=noun(option), machines=_names(names)) for option, names in groups.items()
    ]
    return say("At the prices the site states, what costs least is {options}{by}.", options=listed(parts), by=by)


def _keep_all(machines: Sequence[Machine], by: str) -> str:
    if len(machines) == 1:
        return say(
            "At the prices the site states, keeping costs least for {machine}{by}: it has no case for a change at "
            "these prices.",
            machine=machines[0]["machine"],
            by=by,
        )
    return say(
        "At the prices the site states, keeping costs least for all {machines}{by}: no machine has a case for a change "
        "at these prices.",
        machines=spoken(len(machines), "machine"),
        by=by,
    )


def _margin(priced: Sequence[Machine]) -> str:
    """By which share of a year's cost the next option costs more than the cheapest; "" where there is no such share."""
    shares = []
    for machine in priced:
        best, other = (of(machine, machine[place])["value"] for place in ("best", "next"))
        if best > 0:  # what costs nothing has no share
            shares.append(other / best - 1.0)
    if not shares:
        return ""
    low, high = (_percent(end) for end in (min(shares), max(shares)))
    between = low if low == high else say("{low} to {high}", low=low, high=high)
    return say(", by {share} of a year's cost", share=between)


def _percent(ratio: float) -> str:
    return say("less than {most}", most="1 %") if ratio < 0.005 else f"{decimal(100 * ratio, 0)} %"


def room_sureness(machines: Sequence[Machine]) -> str:
    """How sure the answers are, from the least sure to the surest; ``machines``: those with more than one option."""
    found = sorted((machine["chances"][machine["best"]], place) for place, machine in enumerate(machines))
    (least, first), (most, last) = found[0], found[-1]
    reach = odds(least)
    if reach != odds(most):
        low, high = f"{reach} ({machines[first]['machine']})", f"{odds(most)} ({machines[last]['machine']})"
        reach = say("{low} to {high}", low=low, high=high)
    if len({machine["best"] for machine in machines}) == 1:
        return say(
            "That is right with a chance of {chance}, as far as luck in the rates of events and tickets goes.",
            chance=reach,
        )
    return say(
        "Each answer is right with a chance of {chance}, as far as luck in the rates of events and tickets goes.",
        chance=reach,
    )


def room_stated(machines: Sequence[Machine], currency: str) -> str:
    """The stated number that turns the answer of some machine most easily, and at which value."""
    nearest = _first_to_turn(machines, is_stated=True)
    if nearest is None:
        return say("Nothing that is stated and not measured turns an answer alone.")
    row, machine = nearest
    side = min(("below", "above"), key=lambda end: _times(row["value"], row[end]))
    other = noun(row[f"{side}_option"])
    cuts = _cuts(row["value"], row[side]) if row["input"] == "overhaul_rate_ratio" else None
    if cuts:
        return say(
            "It also hangs on a number nobody measured: if an overhaul cut {machine}'s failures by {cut} and not the "
            "{stated} stated, {option} would be cheaper.",
            machine=machine,
            cut=cuts[1],
            stated=cuts[0],
            option=other,
        )
    return say(
        "It also hangs on a number that is stated and not measured, {name}: at {value} for {machine} and not the "
        "{stated} stated, {option} would be cheaper.",
        name=named(row["input"]),
        value=apart(row["input"], row[side], row["value"], currency),
        machine=machine,
        stated=amount(row["input"], row["value"], currency, is_stated=True),
        option=other,
    )


def room_turn(machines: Sequence[Machine], currency: str) -> str:
    """The measured number that turns the answer of some machine most easily."""
    nearest = _first_to_turn(machines, is_stated=False)
    if nearest is None:
        return say("No measured number turns any of the answers alone, whatever value it is given.")
    row, machine = nearest
    told = say("Of what was measured, this turns an answer first, that of {machine}.", machine=machine)
    turns = capital(turn(row, currency))
    if row["is_within_limits"]:
        turns = say("{turn} (inside its 95 % limits)", turn=turns)
    return f"{told} {turns}."


def _first_to_turn(machines: Sequence[Machine], *, is_stated: bool) -> tuple[Mapping[str, Any], str] | None:
    found = [
        (row, machine["machine"])
        for machine in machines
        for row in turning(machine)
        if (row["input"] in NUMBERS) == is_stated
    ]
    return min(found, key=lambda pair: pair[0]["factor"], default=None)


def _times(now: float, end: float | None) -> float:
    """How far an end is, as a factor; no end is the farthest."""
    if end is None:
        return math.inf
    low, high = sorted((now, end))
    return high / low if low > 0 else 1.0 if high == low else math.nextafter(math.inf, 0)


def _cuts(now: float, end: float) -> tuple[str, str] | None:
    """By how much failures are cut as stated and at the turn, rounded past it by little of the way; None: no cut."""
    if max(now, end) >= 1.0:
        return None
    stated = f"{100 * (1 - now):.6f}".rstrip("0").rstrip(".")
    for places in PLACES:
        scaled = 100 * (1 - end) * 10**places
        past = (math.floor(scaled + 1e-9) if end > now else math.ceil(scaled - 1e-9)) / 10**places
        if past > 0 and abs(past - 100 * (1 - end)) <= 50 * abs(now - end):
            return f"{localised(stated)} %", f"{decimal(past, places)} %"
    return None


def _names(names: Sequence[str]) -> str:
    if len(names) <= 12:
        return listed(names)
    return say("{parts} and {last}", parts=listed(list(names[:12])), last=spoken(len(names) - 12, "other"))


def room_year(machines: Sequence[Machine]) -> str:
    """What a year is expected to bring the machines together, without a price."""
    events = _sum(machines, "events_per_year")
    if any(machine["lost_s_per_year"] is None for machine in machines):
        return say("No event on air is logged so far; that does not say that none will come.")
    lost = _sum(machines, "lost_s_per_year")
    return say(
        "At this pace a year brings {events} events on air ({limits}), interruptions and protect switches, and {lost} "
        "of lost air ({lost_limits}).",
        events=figure(events["value"]),
        limits=limits(events["low"], events["high"]),
        lost=duration(lost["value"]),
        lost_limits=say("{low} to {high}", low=duration(lost["low"]), high=duration(lost["high"])),
    )


def _sum(machines: Sequence[Machine], name: str) -> dict[str, float]:
    return {end: sum(machine[name][end] for machine in machines) for end in ("value", "low", "high")}


def room_standing(machines: Sequence[Machine]) -> str:
    """Whether any machine's own record stands behind its case."""
    compared = [machine for machine in machines if machine.get("comparison")]
    apart_from_luck = [machine["machine"] for machine in compared if machine["comparison"]["is_named"]]
    if apart_from_luck:
        return say(
            "More than luck sets apart {machines}; the other cases differ by hours, price and luck.",
            machines=_names(apart_from_luck),
        )
    if not compared:
        return say(
            "The machines' rates could not be held against each other, so no case here rests on a machine's own record."
        )
    return say(
        "No machine's own record stands out, so the cases differ by hours, price and luck: equal machines would get "
        "cases that look like these."
    )
