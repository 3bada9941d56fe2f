"""Small words the templates ask for beside numbers: what a part is, whether a time was reached, how old a thing is."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from pipeline.render.words import continuity, counted, duration, figure, limits

YEAR_S = 31_557_600.0
FROM_WORDS = (
    "continuity", "counted", "duration", "figure", "hours", "limits", "listed", "month_name", "percent", "rate",
    "share",
)  # fmt: skip


PIECE = re.compile(
    r"(?<=±) |(?<=\d) (?=(?:s|ms|min|h|ppm|air h|days?|times)\b|%)"
    r"|(?<=\d min) (?=\d\d s\b)|(?<=\d h) (?=\d\d min\b)"
)
AIR = {"unknown": "not known"}
WHY = {"none booked": "no protect booked", "not good": "protect not good", "out of step": "protect out of step"}
CARE = {"clean": "cleaned", "lineup": "lined up"}


def unbroken(text: str) -> str:
    """The text with no-break spaces between a number and its unit, so that no line ends between them."""
    return PIECE.sub("\u00a0", text)


def air_state(span: Mapping[str, Any]) -> str:
    """The state of a stretch of air in words, with the reason where it was exposed."""
    state, why = AIR.get(span["state"], span["state"]), span["exposed_why"]
    return f"{state}, {WHY.get(why, why)}" if why else state


def care_words(event: str) -> str:
    """What was done to a machine, in words."""
    return CARE.get(event, event.replace("_", " "))


def bounds(group: Mapping[str, Any]) -> str:
    """Bounds of continuity with the unit said once; "n/a" where there is none."""
    if group["continuity_low"] is None or group["continuity_high"] is None:
        return "n/a"
    return f"{continuity(group['continuity_low']).removesuffix(' %')} to {continuity(group['continuity_high'])}"


def what(part: Mapping[str, Any]) -> str:
    """What a part of an incident is, in a few words."""
    if part["recovery_no"] is None:
        return "rescue by another source"
    if part["interruption_no"] is None:
        return f"{part['kind']} switch, no loss logged"
    if part["kind"]:
        return f"interruption, {part['kind']} switch"
    return "interruption, healed" if part["is_healed"] else "interruption"


def overruled(part: Mapping[str, Any]) -> str:
    """What a person ruled of a part of an incident, by which ruling, and what the program had found; else empty."""
    told = []
    if part["switch_ruling"]:
        found = "found the same" if part["found_kind"] == part["kind"] else f"found {part['found_kind']}"
        told.append(f"Ruled {part['kind']} by ruling {part['switch_ruling']}; the program {found}.")
    if part["cause_ruling"]:
        found = f"{part['found_top']}{': ' if part['found_second'] else ''}{part['found_second']}"
        is_same = (part["found_top"], part["found_second"]) == (part["top"], part["second"])
        told.append(f"Cause by ruling {part['cause_ruling']}; the program found {'the same' if is_same else found}.")
    if part["joined_by"]:
        told.append(f"One incident by ruling {part['joined_by']}; the program found several.")
    return " ".join(told)


def reached(seconds: float | None) -> str:
    """A quantile of recovery times; None is "not reached"."""
    return "not reached" if seconds is None else duration(seconds)


def cut(seconds: float | None, is_whole: bool | None) -> str:
    """A recovery time, marked where it was cut short; empty where it does not apply."""
    if seconds is None:
        return ""
    return duration(seconds) if is_whole else f"{duration(seconds)}, cut"


def days(seconds: float | None) -> str:
    """An age: below two days as a duration, below two years (of 365.25 days) whole days, else years."""
    if seconds is None:
        return "not known"
    if seconds >= 2 * YEAR_S:
        return f"{seconds / YEAR_S:.1f} years"
    return duration(seconds) if seconds < 172_800 else counted(int(seconds // 86_400), "day")


def ratio(compared: Mapping[str, Any]) -> str:
    """A ratio of rates with its limits."""
    high = "no limit" if compared["high"] is None else figure(compared["high"])
    middle = "n/a" if compared["ratio"] is None else figure(compared["ratio"])
    return f"{middle} ({figure(compared['low'])} to {high})"


def p_value(p: float) -> str:
    """A p-value without its letter."""
    return "below 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.01 else f"{p:.2f}"


def seconds(value: float | None) -> str:
    """A signed offset in seconds, to a hundredth."""
    return "not known" if value is None else f"{value:+.2f} s".replace("-", "−")


def ppm(value: float | None) -> str:
    """A drift in parts per million."""
    return "not known" if value is None else f"{value:+.1f} ppm".replace("-", "−")


def instant(text: str) -> str:
    """A stamp of figures.json as a machine's own clock wrote it, UTC, to the second."""
    at = datetime.fromisoformat(text.replace("Z", "+00:00"))
    return f"{at:%Y-%m-%d %H:%M:%S} UTC"


FUNCTIONS: dict[str, Callable[..., str]] = {
    "what": what, "reached": reached, "cut": cut, "days": days, "ratio": ratio, "p_value": p_value, "seconds": seconds,
    "ppm": ppm, "instant": instant, "limits": limits, "unbroken": unbroken, "air_state": air_state,
    "care_words": care_words, "bounds": bounds, "overruled": overruled,
}  # fmt: skip
