"""What the manager's page says first: does a transport stand out, how far out one had to stand, and what luck makes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.page_words import ratio
from pipeline.render.words import chance, counted, figure, listed, percent, spoken

Found = Mapping[str, Any]
EVENTS = {"air": ("protect switch", "protect switches"), "protect": ("loss of cover", "losses of cover")}
RATES = {"air": "protect switches per air hour", "protect": "losses of cover per protect hour"}
FEW = "There are too few protect switches to compare transports at all."
NO_SPREAD = "The spread between the transports is no wider than luck alone gives."
MOST_NAMED = 12


def answer(found: Found, compared: Found, flown: Sequence[Found]) -> list[str]:
    """The first paragraphs of the page; ``found`` is the part ``rates`` of the figures."""
    air = of_measure(found, "air")
    if not found["tests_count"]:
        return [FEW]
    told = [" ".join([*verdict(found), *few_incidents(found), could_show(found), *work_told(air)])]
    if compared["worst_count"]:
        no_spread = [] if compared["shape"] is not None else [NO_SPREAD]
        told.append(" ".join([highest(compared, flown), *no_spread, *worst(air)]))
    scattered = [line for measure in tested(found) for line in scatter(measure, found["level"])]
    return [*told, *scattered]


def of_measure(found: Found, name: str) -> Found:
    """One of the two measures."""
    return next(measure for measure in found["measures"] if measure["measure"] == name)


def tested(found: Found) -> list[Found]:
    """The measures in which machines were held against each other."""
    return [measure for measure in found["measures"] if any(row["p"] is not None for row in measure["machines"])]


def verdict(found: Found) -> list[str]:
    """Who differs beyond chance and by how much; else that nobody does."""
    apart = [
        f"{row['machine']}, with {figure(row['ratio'])} times the others' {RATES[measure['measure']]} "
        f"(limits {_limits(row)}, adjusted {chance(row['adjusted_p'])})"
        if row["ratio"] is not None
        else f"{row['machine']}, which alone has {EVENTS[measure['measure']][1]} (adjusted {chance(row['adjusted_p'])})"
        for measure in found["measures"]
        for row in measure["machines"]
        if row["is_named"]
    ]
    tests = counted(found["tests_count"], "comparison")
    if not apart:
        return [f"No transport differs from the others by more than chance easily gives, the {tests} allowed for."]
    more = f" and {len(apart) - MOST_NAMED} more in the tables" if len(apart) > MOST_NAMED else ""
    return [f"More than chance easily gives, the {tests} allowed for, sets apart {listed(apart[:MOST_NAMED])}{more}."]


def few_incidents(found: Found) -> list[str]:
    """Who would be named by its events, but not by the incidents they came in."""
    names = [
        f"{row['machine']} ({counted(row['count'], *EVENTS[measure['measure']])} on "
        f"{counted(row['incidents_count'], 'occasion')})"
        for measure in found["measures"]
        for row in measure["machines"]
        if row["adjusted_p"] is not None and row["adjusted_p"] < found["level"] and not row["is_named"]
    ]
    if not names:
        return []
    shown = listed(names) if len(names) <= MOST_NAMED else f"{len(names)} transports"
    return [f"By events alone {shown} would stand out, but not by the occasions they came on: one cause may be behind."]


def _limits(row: Found) -> str:
    return ratio({"ratio": row["ratio"], "low": row["ratio_low"], "high": row["ratio_high"]}).partition("(")[2][:-1]


def could_show(found: Found) -> str:
    """The smallest differences that the hours of the machines would have shown with the power's chance."""
    shown, hidden = [], []
    for measure in tested(found):
        ratios = [row["detectable_ratio"] for row in measure["machines"] if row["detectable_ratio"] is not None]
        if ratios:
            shown.append(f"about {_span(min(ratios), max(ratios))} times the others' {RATES[measure['measure']]}")
        else:
            hidden.append(RATES[measure["measure"]])
    told = []
    if shown:
        told.append(
            f"With a chance of {percent(found['power'])} these hours would have shown a transport with "
            f"{listed(shown)}: the fewer its own hours, the more it takes. A smaller difference may well be there and "
            "not be seen."
        )
    if hidden:
        told.append(f"No difference in {listed(hidden)} could have been shown with these hours.")
    return " ".join(told)


def _span(low: float, high: float) -> str:
    """Two figures that count: what would be found is a rough number itself."""
    ends = [f"{round(end):,}" if end >= 9.95 else f"{end:.1f}" for end in (low, high)]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def work_told(measure: Found) -> list[str]:
    """How far seen over expected lies apart once the work that each had is allowed for."""
    found = [row["standardised"]["value"] for row in measure["machines"] if row["standardised"]]
    if len(found) < 2:
        return []
    limits = [row["standardised"] for row in measure["machines"] if row["standardised"]]
    is_luck = all(one["low"] <= 1.0 and (one["high"] is None or one["high"] >= 1.0) for one in limits)
    told = (
        f"With the age of the reels and the hour of the day allowed for, the transports have {figure(min(found))} to "
        f"{figure(max(found))} times the protect switches that their work would bring at the room's rates"
    )
    return [f"{told}; for each of them luck is enough to explain it." if is_luck else f"{told}."]


def highest(compared: Found, flown: Sequence[Found]) -> str:
    """The highest count and how often luck alone makes one as high."""
    count = compared["worst_count"]
    names = [row["machine"] for row in flown if row["protect_switches"] == count]
    shown = listed(names) if len(names) <= MOST_NAMED else f"{len(names)} transports"
    return (
        f"The highest count of protect switches is {count} ({shown}). If every transport had the room's own rate and "
        f"its own air hours, the highest of the {len(flown)} would be at least that with a chance of "
        f"{percent(compared['worst_by_luck'])}: somebody is always worst."
    )


def worst(measure: Found) -> list[str]:
    """Who most likely has the highest true rate, against what it would be if all were alike."""
    rows = [row for row in measure["machines"] if row["worst_ratio"] is not None]
    if len(rows) < 2:
        return []
    first = max(rows, key=lambda row: row["worst_ratio"])
    told = f"The one most likely to have the highest true rate is {first['machine']}, with a chance of "
    return [told + f"{percent(first['worst_ratio'])}; if all were alike it would be 1 in {len(rows)}."]


def scatter(measure: Found, level: float) -> list[str]:
    """A caution where the monthly counts are more scattered than luck makes them."""
    found = measure["dispersion"]
    if found["p"] is None or found["p"] >= level:
        return []
    told = (
        f"Caution: monthly counts of {EVENTS[measure['measure']][1]} are more scattered than luck makes them "
        f"({figure(found['index'])} times, {chance(found['p'])}): events come in clusters or rates change, and limits "
        "and chances on this page are then too narrow and too small."
    )
    return [told]


def scatter_note(measure: Found, level: float) -> str:
    """What the test of the monthly counts says, whichever way."""
    found, many = measure["dispersion"], EVENTS[measure["measure"]][1]
    if found["p"] is None:
        return f"Too few months or {many} to see whether they come in clusters."
    is_wide = found["p"] < level
    told = "more than luck makes them" if is_wide else "no more than luck easily makes them"
    return (
        f"Monthly counts of {many} are scattered {told}: {figure(found['index'])} times, over "
        f"{spoken(found['months_count'], 'month')} ({chance(found['p'])})."
    )
