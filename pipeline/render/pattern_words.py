"""What the page on what comes back calls the kinds of names, what belongs to each, and how faults began together."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say
from pipeline.render.log_words import event_word
from pipeline.render.table_words import Words, by_language, switch_word
from pipeline.render.words import chance, counted, duration, figure, hours, listed, spoken, times

IN_ORDER = "hour of the local day"  # printed whole and by the clock
KINDS = ("machine", "pair", "reel", "recording machine", "head serial", IN_ORDER)
SWITCH, BOTH = " switch", " and "
HOURS = re.compile(r"(?P<low>\d\d:\d\d) to (?P<high>\d\d:\d\d)")


@by_language
def titles() -> Words:
    """The heading of each kind."""
    return {
        "machine": say("Machine on air"),
        "pair": say("Pair"),
        "reel": say("Reel"),
        "recording machine": say("Machine that recorded the reel"),
        "head serial": say("Head serial"),
        "hour of the local day": say("Hour of the local day"),
    }


@by_language
def leads() -> Words:
    """What an event goes by in each kind."""
    return {
        "machine": say("The machine left or lost."),
        "pair": say("The registered pair of that machine."),
        "reel": say("The reel booked on that machine for that transmission."),
        "recording machine": say("Where the label of that reel says it was recorded: a fault may be on the tape."),
        "head serial": say(
            "The head fitted last before, wherever its serial goes; before the first fitting none is known."
        ),
        "hour of the local day": say("The hour on the wall in which the event began: heat, mains, shifts, habits."),
    }


@by_language
def kind_names() -> Words:
    """Each kind inside a sentence."""
    return {
        "machine": say("machine", about="kind of name"),
        "pair": say("pair", about="kind of name"),
        "reel": say("reel", about="kind of name"),
        "recording machine": say("recording machine", about="kind of name"),
        "head serial": say("head serial", about="kind of name"),
        "hour of the local day": say("hour of the local day", about="kind of name"),
    }


def name_word(kind: str, name: str | None) -> str | None:
    """A name as the page shows it: the words between two hours or two machines are those of the language."""
    hours_of_day = HOURS.fullmatch(name or "") if kind == IN_ORDER else None
    if hours_of_day:
        return say("{low} to {high}", low=hours_of_day["low"], high=hours_of_day["high"])
    both = (name or "").split(BOTH) if kind == "pair" else ()
    return listed(both) if len(both) == 2 else name


@by_language
def together_kinds() -> Words:
    """Between which machines a coincidence was."""
    return {
        "machines of one transmission": say("machines of one transmission"),
        "machines with nothing in common but the room": say("machines with nothing in common but the room"),
    }


def nameless(kind: str, size: str) -> str:
    """Why events and air of a kind have no name; ``size`` is how much of them."""
    told = {
        "machine": say(
            "The machine of {size}: air was on standby, which belongs to no machine. Not compared with anything.",
            size=size,
        ),
        "pair": say(
            "The pair of {size}: the register names no partner, or air was on standby. Not compared with anything.",
            size=size,
        ),
        "reel": say("The reel of {size}: no reel is booked. Not compared with anything.", size=size),
        "recording machine": say(
            "The recording machine of {size}: no label says where the reel was recorded. Not compared with anything.",
            size=size,
        ),
        "head serial": say(
            "The head serial of {size}: no fitting of a head is logged before. Not compared with anything.", size=size
        ),
    }
    return told[kind]


def call(row: Mapping[str, Any]) -> str:
    """What stands out, in a sentence."""
    is_one = row["incidents"] == 1
    text = say(
        "Stands out: {kind} {name}, with {events} {spread}, where its {hours} on air would bring {expected} "
        "(adjusted {chance}).",
        kind=kind_names()[row["kind"]],
        name=name_word(row["kind"], row["name"]),
        events=counted(row["count"], "event"),
        spread=say("all in one incident")
        if is_one
        else say("in {incidents}", incidents=spoken(row["incidents"], "incident")),
        hours=hours(row["exposure_s"]),
        expected=figure(row["expected"]),
        chance=chance(row["adjusted_p"]),
    )
    return f"{text} {say('One bad evening is no pattern yet.')}" if is_one else text


def coincidence(test: Mapping[str, Any], window_s: float, *, is_called: bool) -> str:
    """How often faults of a kind of machines began together, and what luck would bring."""
    kind = together_kinds()[test["kind"]]
    if test["p"] is None:
        return say("No {kind} ever ran well together.", kind=kind)
    told = {
        "kind": kind, "times": times(test["count"]), "window": duration(window_s),
        "expected": figure(test["expected"]), "chance": chance(test["adjusted_p"]),
    }  # fmt: skip
    if is_called:
        return say(
            "On {kind}, faults {times} began within {window} of each other, where luck would bring at most {expected} "
            "such coincidences: more than luck easily gives (adjusted {chance}).",
            **told,
        )
    return say(
        "On {kind}, faults {times} began within {window} of each other, where luck would bring at most {expected} such "
        "coincidences: no more than luck easily gives (adjusted {chance}).",
        **told,
    )


def played_again(counts: Mapping[str, int]) -> str:
    """Reels booked in more than one coincidence; empty where there is none."""
    names = [f"{reel} ({counted(count, 'time')})" for reel, count in sorted(counts.items()) if count > 1]
    return say("Booked in more than one of these: {reels}.", reels=listed(names)) if names else ""


def onset_word(what: str) -> str:
    """What began: an event of a machine's log, an interruption, or a switch by its kind."""
    if what == "interruption":
        return say("interruption")
    if what.endswith(SWITCH):
        return switch_word(what.removesuffix(SWITCH))
    return event_word(what.replace(" ", "_"))
