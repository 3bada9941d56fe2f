"""Small words the templates ask for beside numbers: what a part is, whether a time was reached, how old a thing is."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from pipeline.render.cause_names import cause_text, cause_word
from pipeline.render.language import decimal, localised, say
from pipeline.render.table_words import (
    care_words,
    exposed_word,
    feed_word,
    grade_word,
    kind_word,
    reason_word,
    role_word,
    source_word,
    state_word,
    switch_word,
)
from pipeline.render.words import continuity, counted, duration, figure, limits, not_applicable, not_known

YEAR_S = 31_557_600.0
FROM_WORDS = (
    "continuity", "counted", "duration", "figure", "hours", "limits", "listed", "month_name", "percent", "rate",
    "share",
)  # fmt: skip


PIECE = re.compile(
    r"(?<=±) |(?<=\d) (?=(?:s|ms|min|h|ppm|air h|days?|times|Tagen?|Mal)\b|%)"
    r"|(?<=\d min) (?=\d\d s\b)|(?<=\d h) (?=\d\d min\b)"
)


def unbroken(text: str) -> str:
    """The text with no-break spaces between a number and its unit, so that no line ends between them."""
    return PIECE.sub("\u00a0", text)


def air_state(span: Mapping[str, Any]) -> str:
    """The state of a stretch of air in words, with the reason where it was exposed."""
    state, why = state_word(span["state"]), span["exposed_why"]
    return f"{state}, {exposed_word(why)}" if why else state


def bounds(group: Mapping[str, Any]) -> str:
    """Bounds of continuity with the unit said once; "n/a" where there is none."""
    if group["continuity_low"] is None or group["continuity_high"] is None:
        return not_applicable()
    low = continuity(group["continuity_low"]).removesuffix(" %")
    return say("{low} to {high}", low=low, high=continuity(group["continuity_high"]))


def what(part: Mapping[str, Any]) -> str:
    """What a part of an incident is, in a few words."""
    if part["recovery_no"] is None:
        return say("rescue by another source")
    if part["interruption_no"] is None:
        return say("{switch}, no loss logged", switch=switch_word(part["kind"]))
    if part["kind"]:
        return say("interruption, {switch}", switch=switch_word(part["kind"]))
    return say("interruption, healed") if part["is_healed"] else say("interruption")


def overruled(part: Mapping[str, Any]) -> str:
    """What a person ruled of a part of an incident, by which ruling, and what the program had found; else empty."""
    told = []
    if part["switch_ruling"]:
        told.append(_switch_ruled(part))
    if part["cause_ruling"]:
        told.append(_cause_ruled(part))
    if part["joined_by"]:
        told.append(say("One incident by ruling {ruling}; the program found several.", ruling=part["joined_by"]))
    return " ".join(told)


def _switch_ruled(part: Mapping[str, Any]) -> str:
    kind, ruling = kind_word(part["kind"]), part["switch_ruling"]
    if part["found_kind"] == part["kind"]:
        return say("Ruled {kind} by ruling {ruling}; the program found the same.", kind=kind, ruling=ruling)
    found = kind_word(str(part["found_kind"]))
    return say("Ruled {kind} by ruling {ruling}; the program found {found}.", kind=kind, ruling=ruling, found=found)


def _cause_ruled(part: Mapping[str, Any]) -> str:
    if (part["found_top"], part["found_second"]) == (part["top"], part["second"]):
        return say("Cause by ruling {ruling}; the program found the same.", ruling=part["cause_ruling"])
    found = cause_text(part["found_top"], part["found_second"])
    return say("Cause by ruling {ruling}; the program found {found}.", ruling=part["cause_ruling"], found=found)


def reached(seconds: float | None) -> str:
    """A quantile of recovery times; None is "not reached"."""
    return say("not reached") if seconds is None else duration(seconds)


def cut(seconds: float | None, is_whole: bool | None) -> str:
    """A recovery time, marked where it was cut short; empty where it does not apply."""
    if seconds is None:
        return ""
    return duration(seconds) if is_whole else say("{time}, cut", time=duration(seconds))


def days(seconds: float | None) -> str:
    """An age: below two days as a duration, below two years (of 365.25 days) whole days, else years."""
    if seconds is None:
        return not_known()
    if seconds >= 2 * YEAR_S:
        return say("{years} years", years=decimal(seconds / YEAR_S, 1))
    return duration(seconds) if seconds < 172_800 else counted(int(seconds // 86_400), "day")


def ratio(compared: Mapping[str, Any]) -> str:
    """A ratio of rates with its limits."""
    high = say("no limit") if compared["high"] is None else figure(compared["high"])
    middle = not_applicable() if compared["ratio"] is None else figure(compared["ratio"])
    return f"{middle} ({say('{low} to {high}', low=figure(compared['low']), high=high)})"


def p_value(p: float) -> str:
    """A p-value without its letter."""
    return say("below {least}", least=decimal(0.001, 3)) if p < 0.001 else decimal(p, 3 if p < 0.01 else 2)


def seconds(value: float | None) -> str:
    """A signed offset in seconds, to a hundredth."""
    return not_known() if value is None else f"{localised(f'{value:+.2f}')} s"


def ppm(value: float | None) -> str:
    """A drift in parts per million."""
    return not_known() if value is None else f"{localised(f'{value:+.1f}')} ppm"


def instant(text: str) -> str:
    """A stamp of figures.json as a machine's own clock wrote it, UTC, to the second."""
    at = datetime.fromisoformat(text.replace("Z", "+00:00"))
    return f"{at:%Y-%m-%d %H:%M:%S} UTC"


FUNCTIONS: dict[str, Callable[..., str]] = {
    "what": what, "reached": reached, "cut": cut, "days": days, "ratio": ratio, "p_value": p_value, "seconds": seconds,
    "ppm": ppm, "instant": instant, "limits": limits, "unbroken": unbroken, "air_state": air_state,
    "care_words": care_words, "bounds": bounds, "overruled": overruled, "cause_word": cause_word,
    "cause_text": cause_text, "grade_word": grade_word, "state_word": state_word, "kind_word": kind_word,
    "switch_word": switch_word, "role_word": role_word, "reason_word": reason_word, "source_word": source_word,
    "feed_word": feed_word,
}  # fmt: skip
