"""The words of the evidence in the site's language: how a figure comes about, what an item is, what a row proves.

The evidence speaks English, on the terminal and in the database. What it says with values inside is taken apart here;
what fits no pattern stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from pipeline.render.language import SOURCE, localised, say, spoken_language, translated
from pipeline.render.log_words import event_word
from pipeline.render.table_words import Words, by_language, grade_word, reason_word, role_word, source_word, switch_word

UNDER = re.compile(r"(?P<head>.+ listed under) (?P<figure>\S+)")
OF_TRANSMISSION = re.compile(r"(?P<what>.+) \(transmission (?P<transmission>.+)\)")
CAUSE = re.compile(
    r"(?P<what>interruption|switch, no loss logged), (?:no ticket|ticket (?P<ticket>.+?))"
    r" \((?P<grade>stated|proved by swap|guessed from words|none)(?:: (?P<words>.*))?\)"
)
Pattern = tuple[re.Pattern[str], Callable[[re.Match[str]], str]]


def formula(how: str) -> str:
    """How a figure is added up or worked out."""
    found = UNDER.fullmatch(how)
    return f"{translated(found['head'])} {found['figure']}" if found else translated(how)


def side_word(side: str) -> str:
    """Whether a row proves where an item begins, where it ends, or what it is."""
    return _sides().get(side, side)


@by_language
def _sides() -> Words:
    return {
        "begins": say("begins", about="row"),
        "ends": say("ends", about="row"),
        "says": say("says", about="row"),
    }


def item_words(what: str) -> str:
    """What an item is."""
    if spoken_language().tag == SOURCE:
        return what
    cause = CAUSE.fullmatch(what)
    if cause:
        return _cause_item(cause)
    found = OF_TRANSMISSION.fullmatch(what)
    if not found:
        return _parts(what)
    return say("{what} (transmission {name})", what=_parts(found["what"]), name=found["transmission"])


def _cause_item(found: re.Match[str]) -> str:
    ticket = say("ticket {ticket}", ticket=found["ticket"]) if found["ticket"] else say("no ticket")
    words = f": {found['words']}" if found["words"] else ""
    return f"{_parts(found['what'])}, {ticket} ({grade_word(found['grade'])}{words})"


def _parts(what: str) -> str:
    return ", ".join(_part(part) for part in what.split(", "))


def _part(part: str) -> str:
    words = _item_parts()
    if part in words:
        return words[part]
    return _first(part, ITEM_PATTERNS)


def _first(text: str, patterns: tuple[Pattern, ...]) -> str:
    found = ((pattern.fullmatch(text), told) for pattern, told in patterns)
    return next((told(match) for match, told in found if match), text)


def proof_words(why: str) -> str:
    """What a source row proves."""
    return why if spoken_language().tag == SOURCE else _first(why, PROOF_PATTERNS)


@by_language
def _item_parts() -> Words:
    return {**_air_parts(), **_event_parts(), **_cut_parts()}


def _air_parts() -> Words:
    return {
        "lost": say("lost"),
        "covered": say("covered"),
        "unproved": say("unproved"),
        "exposed": say("exposed"),
        "not known": say("not known"),
        "no protect booked": say("no protect booked"),
        "protect not good": say("protect not good"),
        "protect out of step": say("protect out of step"),
        "on standby": say("on standby"),
        "fed by a machine outside the transmission": say("fed by a machine outside the transmission"),
        "another source on air": say("another source on air"),
        "feed past the end of the window": say("feed past the end of the window"),
    }


def _event_parts() -> Words:
    return {
        "interruption": say("interruption"),
        "began on standby": say("began on standby"),
        "rescue by another source": say("rescue by another source"),
        "demand on protect": say("demand on protect"),
        "met": say("met"),
        "healed without a take": say("healed without a take"),
        "not met": say("not met"),
        "no protect there": say("no protect there"),
        "switch": say("switch"),
        "no loss logged": say("no loss logged"),
    }


def _cut_parts() -> Words:
    return {
        "cut short": say("cut short"),
        "cut short by the end of the programme": say("cut short by the end of the programme"),
        "or by the log falling silent": say("or by the log falling silent"),
        "cut short: no take before the end": say("cut short: no take before the end"),
        "cut short: not covered again before the window's end": say(
            "cut short: not covered again before the window's end"
        ),
        "cut short: not restored when the ticket was closed": say("cut short: not restored when the ticket was closed"),
        "or by the end of the data": say("or by the end of the data"),
    }


def _took(found: re.Match[str]) -> str:
    time = localised(found["time"])
    told = {
        "lost air": say("lost air: {time}", time=time),
        "from the onset to the take": say("from the onset to the take: {time}", time=time),
        "from the onset until covered again": say("from the onset until covered again: {time}", time=time),
        "from the ticket's opening to the machine back in service": say(
            "from the ticket's opening to the machine back in service: {time}", time=time
        ),
    }
    return told.get(found["what"], found.group())


def _switch(found: re.Match[str]) -> str:
    switch, left, taken = switch_word(found["kind"]), source_word(found["left"]), source_word(found["to"])
    return say("{switch} from {left} to {to}", switch=switch, left=left, to=taken)


def _take(found: re.Match[str]) -> str:
    taken = source_word(found["to"])
    text = (
        say("take from {left} to {to}", left=source_word(found["left"]), to=taken)
        if found["left"]
        else say("take to {to}", to=taken)
    )
    if not found["reason"]:
        return text
    return say("{take}, reason {reason}", take=text, reason=reason_word(found["reason"]))


def _booked(found: re.Match[str]) -> str:
    machine, role = found["machine"], role_word(found["role"])
    if found["edge"] == "begins":
        return say("booking of {machine} as {role} begins", machine=machine, role=role)
    return say("booking of {machine} as {role} ends", machine=machine, role=role)


def _heard(found: re.Match[str]) -> str:
    if found["last"]:
        return say(
            "nothing heard from {machine} for the silence of the site's settings after this, its last line",
            machine=found["machine"],
        )
    return say(
        "nothing heard from {machine} for the carry of the site's settings after this line", machine=found["machine"]
    )


def _read_cause(found: re.Match[str]) -> str:
    if found["cause"]:
        return say("ticket {ticket}, from which the cause is read", ticket=found["ticket"])
    return say("ticket {ticket}", ticket=found["ticket"])


def _logged(found: re.Match[str]) -> str:
    words = event_word(found["event"].replace(" ", "_"))
    return f"{found['machine']}: {words}"


ITEM_PATTERNS: tuple[Pattern, ...] = (
    (re.compile(r"(?P<kind>\w+) switch from (?P<left>.+) to (?P<to>.+)"), _switch),
    (re.compile(r"(?P<what>lost air|from the .+): (?P<time>[\d.]+ s)"), _took),
    (
        re.compile(r"good and in step behind (.+)"),
        lambda found: say("good and in step behind {machine}", machine=found[1]),
    ),
    (re.compile(r"cover lost behind (.+)"), lambda found: say("cover lost behind {machine}", machine=found[1])),
    (re.compile(r"incident (.+)"), lambda found: say("incident {incident}", incident=found[1])),
)
PROOF_PATTERNS: tuple[Pattern, ...] = (
    (re.compile(r"take(?: from (?P<left>.+?))? to (?P<to>.+?)(?:, reason (?P<reason>\w+))?"), _take),
    (re.compile(r"booking of (?P<machine>.+) as (?P<role>\w+) (?P<edge>begins|ends)"), _booked),
    (re.compile(r"nothing heard from (?P<machine>.+) for the (?:silence.+(?P<last>last) line|carry.+)"), _heard),
    (re.compile(r"ticket (?P<ticket>.+?)(?P<cause>, from which the cause is read)?"), _read_cause),
    (re.compile(r"put the channel on another source"), lambda _: say("put the channel on another source")),
    (
        re.compile(r"put the channel on (.+)"),
        lambda found: say("put the channel on {source}", source=source_word(found[1])),
    ),
    (
        re.compile(r"left (.+), which so fed until then"),
        lambda found: say("left {source}, which so fed until then", source=source_word(found[1])),
    ),
    (re.compile(r"books (.+) to air"), lambda found: say("books {machine} to air", machine=found[1])),
    (
        re.compile(r"a start command names (.+), which so joins the transmission"),
        lambda found: say("a start command names {machine}, which so joins the transmission", machine=found[1]),
    ),
    (
        re.compile(r"the data end with this row, the latest stamp of all"),
        lambda _: say("the data end with this row, the latest stamp of all"),
    ),
    (
        re.compile(r"a month ends here, and what goes on is counted in the next"),
        lambda _: say("a month ends here, and what goes on is counted in the next"),
    ),
    (re.compile(r"(?P<machine>.+): (?P<event>[a-z ]+)"), _logged),
)
