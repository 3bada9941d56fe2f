"""How the page on recordings writes ratios and names: with limits, without an end, or not at all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.language import localised, say, whole
from pipeline.render.words import figure, limits, listed, not_applicable

Found = Mapping[str, Any]
NAMES_SAID = 6  # in one sentence
WIDEST = 1000.0  # times the lower limit; an upper one beyond it says nothing of the ratio


def said(names: Sequence[str]) -> str:
    """Names in a sentence, at most six of them, and how many more."""
    if len(names) <= NAMES_SAID:
        return listed(list(names))
    first = ", ".join(names[:NAMES_SAID])
    return say("{names} and {count} more", names=first, count=whole(len(names) - NAMES_SAID))


def times_text(ratio: Found | None) -> str:
    """A ratio as "2.00 times (1.10 to 3.60)", or "at least 1.10 times"; "n/a" where nothing is known of it."""
    if ratio is None or (ratio["value"] is None and not ratio["low"]):
        return not_applicable()
    if ratio["value"] is None:
        return say("at least {low} times", low=figure(ratio["low"]))
    return say("{value} times ({limits})", value=figure(ratio["value"]), limits=_limits(ratio))


def ratio_text(ratio: Found | None) -> str:
    """A ratio as "2.00 (1.10 to 3.60)" or "without limit (1.10 or more)"; "n/a" where it says nothing."""
    if ratio is None or says_nothing(ratio):
        return not_applicable()
    return f"{figure(or_infinite(ratio['value']))} ({_limits(ratio)})"


def says_nothing(ratio: Found) -> bool:
    """Whether a ratio has neither a value nor a lower limit, or is too wide."""
    return (ratio["value"] is None and not ratio["low"]) or is_too_wide(ratio)


def is_too_wide(ratio: Found | None) -> bool:
    """Whether the limits lie so far apart that the ratio says nothing."""
    return bool(ratio and ratio["low"] and ratio["high"] and WIDEST * ratio["low"] < ratio["high"] < math.inf)


def _limits(ratio: Found) -> str:
    low, high = ratio["low"] or 0.0, or_infinite(ratio["high"])
    if math.isinf(high):
        return say("{low} or more", low=_least(low))
    return limits(low, high)


def _least(low: float) -> str:
    """A lower limit that stands alone: "under 0.01 or more" would say nothing."""
    return figure(low) if low >= 0.01 else localised(f"{low:.3f}".rstrip("0.") or "0")


def or_infinite(value: float | None) -> float:
    """A limit as a number: None is one without an end."""
    return math.inf if value is None else value
