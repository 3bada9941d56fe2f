"""What the manager's page says first: does a transport stand out, how far out one had to stand, and what luck makes."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.render.language import decimal, say, whole
from pipeline.render.transports.side_by_side_measures import Found, counted_events, events, of_measure, rates, tested
from pipeline.render.words import chance, counted, figure, listed, percent, spoken

MOST_NAMED = 12


def answer(found: Found, compared: Found, flown: Sequence[Found]) -> list[str]:
    """The first paragraphs of the page; ``found`` is the part ``rates`` of the figures."""
    air = of_measure(found, "air")
    if not found["tests_count"]:
        return [say("There are too few protect switches to compare transports at all.")]
    told = [" ".join([*verdict(found), *few_incidents(found), could_show(found), *work_told(air)])]
    if compared["worst_count"]:
        no_spread = say("The spread between the transports is no wider than luck alone gives.")
        told.append(
            " ".join([highest(compared, flown), *([no_spread] if compared["shape"] is None else []), *worst(air)])
        )
    scattered = [line for measure in tested(found) for line in scatter(measure, found["level"])]
    return [*told, *scattered]


def verdict(found: Found) -> list[str]:
    """Who differs beyond chance and by how much; else that nobody does."""
    apart = [_apart(measure, row) for measure in found["measures"] for row in measure["machines"] if row["is_named"]]
    tests = counted(found["tests_count"], "comparison")
    if not apart:
        return [
            say(
                "No transport differs from the others by more than chance easily gives, the {tests} allowed for.",
                tests=tests,
            )
        ]
    named = listed(apart[:MOST_NAMED])
    if len(apart) > MOST_NAMED:
        named = say("{machines} and {n} more in the tables", machines=named, n=whole(len(apart) - MOST_NAMED))
    return [
        say(
            "More than chance easily gives, the {tests} allowed for, sets apart {machines}.",
            tests=tests,
            machines=named,
        )
    ]


def _apart(measure: Found, row: Found) -> str:
    p = chance(row["adjusted_p"])
    if row["ratio"] is None:
        return say(
            "{machine}, which alone has {events} (adjusted {p})", machine=row["machine"], events=events(measure), p=p
        )
    return say(
        "{machine}, with {times} times the others' {rates} (limits {limits}, adjusted {p})",
        machine=row["machine"],
        times=figure(row["ratio"]),
        rates=rates(measure),
        limits=_limits(row),
        p=p,
    )


def few_incidents(found: Found) -> list[str]:
    """Who would be named by its events, but not by the incidents they came in."""
    names = [
        say(
            "{machine} ({events} on {occasions})",
            machine=row["machine"],
            events=counted_events(measure, row["count"]),
            occasions=counted(row["incidents_count"], "occasion"),
        )
        for measure in found["measures"]
        for row in measure["machines"]
        if row["adjusted_p"] is not None and row["adjusted_p"] < found["level"] and not row["is_named"]
    ]
    if not names:
        return []
    return [
        say(
            "By events alone {machines} would stand out, but not by the occasions they came on: one cause may be "
            "behind.",
            machines=_named(names),
        )
    ]


def _named(names: Sequence[str]) -> str:
    return listed(names) if len(names) <= MOST_NAMED else counted(len(names), "transport")


def _limits(row: Found) -> str:
    high = say("no limit") if row["ratio_high"] is None else figure(row["ratio_high"])
    return say("{low} to {high}", low=figure(row["ratio_low"]), high=high)


def could_show(found: Found) -> str:
    """The smallest differences that the hours of the machines would have shown with the power's chance."""
    shown, hidden = [], []
    for measure in tested(found):
        ratios = [row["detectable_ratio"] for row in measure["machines"] if row["detectable_ratio"] is not None]
        if ratios:
            span = _span(min(ratios), max(ratios))
            shown.append(say("about {span} times the others' {rates}", span=span, rates=rates(measure)))
        else:
            hidden.append(rates(measure))
    told = []
    if shown:
        told.append(
            say(
                "With a chance of {power} these hours would have shown a transport with {differences}: the fewer its "
                "own hours, the more it takes. A smaller difference may well be there and not be seen.",
                power=percent(found["power"]),
                differences=listed(shown),
            )
        )
    if hidden:
        told.append(say("No difference in {rates} could have been shown with these hours.", rates=listed(hidden)))
    return " ".join(told)


def _span(low: float, high: float) -> str:
    """Two figures that count: what would be found is a rough number itself."""
    ends = [whole(round(end)) if end >= 9.95 else decimal(end, 1) for end in (low, high)]
    return ends[0] if ends[0] == ends[1] else say("{low} to {high}", about="times", low=ends[0], high=ends[1])


def work_told(measure: Found) -> list[str]:
    """How far seen over expected lies apart once the work that each had is allowed for."""
    found = [row["standardised"]["value"] for row in measure["machines"] if row["standardised"]]
    if len(found) < 2:
        return []
    limits = [row["standardised"] for row in measure["machines"] if row["standardised"]]
    is_luck = all(one["low"] <= 1.0 and (one["high"] is None or one["high"] >= 1.0) for one in limits)
    ends = {"low": figure(min(found)), "high": figure(max(found))}
    if is_luck:
        told = say(
            "With the age of the reels and the hour of the day allowed for, the transports have {low} to {high} times "
            "the protect switches that their work would bring at the room's rates; for each of them luck is enough to "
            "explain it.",
            **ends,
        )
    else:
        told = say(
            "With the age of the reels and the hour of the day allowed for, the transports have {low} to {high} times "
            "the protect switches that their work would bring at the room's rates.",
            **ends,
        )
    return [told]


def highest(compared: Found, flown: Sequence[Found]) -> str:
    """The highest count and how often luck alone makes one as high."""
    count = compared["worst_count"]
    names = [row["machine"] for row in flown if row["protect_switches"] == count]
    return say(
        "The highest count of protect switches is {count} ({machines}). If every transport had the room's own rate and "
        "its own air hours, the highest of the {all} would be at least that with a chance of {chance}: somebody is "
        "always worst.",
        count=whole(count),
        machines=_named(names),
        all=whole(len(flown)),
        chance=percent(compared["worst_by_luck"]),
    )


def worst(measure: Found) -> list[str]:
    """Who most likely has the highest true rate, against what it would be if all were alike."""
    rows = [row for row in measure["machines"] if row["worst_ratio"] is not None]
    if len(rows) < 2:
        return []
    first = max(rows, key=lambda row: row["worst_ratio"])
    told = say(
        "The one most likely to have the highest true rate is {machine}, with a chance of {chance}; if all were alike "
        "it would be 1 in {all}.",
        machine=first["machine"],
        chance=percent(first["worst_ratio"]),
        all=whole(len(rows)),
    )
    return [told]


def scatter(measure: Found, level: float) -> list[str]:
    """A caution where the monthly counts are more scattered than luck makes them."""
    found = measure["dispersion"]
    if found["p"] is None or found["p"] >= level:
        return []
    told = say(
        "Caution: monthly counts of {events} are more scattered than luck makes them ({index} times, {p}): events come "
        "in clusters or rates change, and limits and chances on this page are then too narrow and too small.",
        events=events(measure),
        index=figure(found["index"]),
        p=chance(found["p"]),
    )
    return [told]


def scatter_note(measure: Found, level: float) -> str:
    """What the test of the monthly counts says, whichever way."""
    found = measure["dispersion"]
    if found["p"] is None:
        return say("Too few months or {events} to see whether they come in clusters.", events=events(measure))
    named = {
        "events": events(measure),
        "index": figure(found["index"]),
        "months": spoken(found["months_count"], "month"),
        "p": chance(found["p"]),
    }
    if found["p"] < level:
        return say(
            "Monthly counts of {events} are scattered more than luck makes them: {index} times, over {months} ({p}).",
            **named,
        )
    return say(
        "Monthly counts of {events} are scattered no more than luck easily makes them: {index} times, over {months} "
        "({p}).",
        **named,
    )
