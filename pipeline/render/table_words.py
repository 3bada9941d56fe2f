"""Words that come from tables, in the site's language: states, kinds of switch, roles, reasons, grades, causes.

The tables and figures.json keep the English words whatever the pages speak. A word that is not here is shown as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

from pipeline.render.language import Language, say, spoken_language

Words = Mapping[str, str]


def by_language(words: Callable[[], Words]) -> Callable[[], Words]:
    """A table of words that is made once for each language."""

    @cache
    def made(_: Language) -> Words:
        return words()

    return lambda: made(spoken_language())


def state_word(state: str) -> str:
    """A state of air time."""
    return _states().get(state, state)


@by_language
def _states() -> Words:
    return {
        "lost": say("lost"),
        "covered": say("covered"),
        "unproved": say("unproved"),
        "exposed": say("exposed"),
        "unknown": say("not known"),
    }


def exposed_word(why: str) -> str:
    """Why air was exposed."""
    return _exposed().get(why, why)


@by_language
def _exposed() -> Words:
    return {
        "none booked": say("no protect booked"),
        "not good": say("protect not good"),
        "out of step": say("protect out of step"),
    }


def kind_word(kind: str) -> str:
    """A kind of switch alone, as in "ruled forced"."""
    return _kinds().get(kind, kind)


@by_language
def _kinds() -> Words:
    return {
        "forced": say("forced"),
        "precaution": say("precaution"),
        "unexplained": say("unexplained"),
        "planned": say("planned"),
        "return": say("return"),
    }


def switch_word(kind: str) -> str:
    """A switch with its kind, as in "forced switch"."""
    return _switches().get(kind, f"{kind} switch")


@by_language
def _switches() -> Words:
    return {
        "forced": say("forced switch"),
        "precaution": say("precaution switch"),
        "unexplained": say("unexplained switch"),
        "planned": say("planned switch"),
        "return": say("return switch"),
    }


def reason_word(reason: str) -> str:
    """A reason stated with a take."""
    return _reasons().get(reason, reason)


@by_language
def _reasons() -> Words:
    return {
        "fault": say("fault", about="reason of a take"),
        "precaution": say("precaution", about="reason of a take"),
        "planned": say("planned", about="reason of a take"),
        "rehearsal": say("rehearsal", about="reason of a take"),
        "return": say("return", about="reason of a take"),
    }


def role_word(role: str) -> str:
    """What a machine is booked for."""
    return _roles().get(role, role)


@by_language
def _roles() -> Words:
    return {
        "air": say("air", about="role"),
        "protect": say("protect", about="role"),
        "record": say("record", about="role"),
        "record_protect": say("record_protect", about="role"),
        "dub": say("dub", about="role"),
        "maintenance": say("maintenance", about="role"),
    }


def source_word(name: str) -> str:
    """A source of air: a machine's name as it is; "standby" and "other" in words of the language."""
    return _sources().get(name, name)


@by_language
def _sources() -> Words:
    return {"standby": say("standby"), "other": say("other", about="source")}


def care_words(event: str) -> str:
    """What was done to a machine, in words."""
    return _care().get(event, event.replace("_", " "))


@by_language
def _care() -> Words:
    return {
        "clean": say("cleaned"),
        "lineup": say("lined up"),
        "head_fitted": say("head fitted"),
        "part_fitted": say("part fitted"),
    }


def grade_word(grade: str) -> str:
    """The grade of the evidence of a cause."""
    return _grades().get(grade, grade)


@by_language
def _grades() -> Words:
    return {
        "stated": say("stated"),
        "proved by swap": say("proved by swap"),
        "guessed from words": say("guessed from words"),
        "none": say("none", about="evidence"),
    }


def feed_word(feed: str) -> str:
    """A feed: what a file holds."""
    return _feeds().get(feed, feed)


@by_language
def _feeds() -> Words:
    return {
        "events": say("events", about="feed"),
        "switches": say("switches", about="feed"),
        "tickets": say("tickets", about="feed"),
        "bookings": say("bookings", about="feed"),
        "machines": say("machines", about="feed"),
        "reels": say("reels", about="feed"),
        "rulings": say("rulings", about="feed"),
    }
