"""How the page on parts writes kinds of parts, lives and chances: with limits, or that they are not known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say
from pipeline.render.words import figure, not_known, percent

Values = Mapping[str, Any]


def kind_word(kind: str) -> str:
    """A kind of part: the head, which the log names by an event, in the pages' language, any other as it is logged."""
    return say("head", about="part") if kind == "head" else kind


def life_hours(value: float | None) -> str:
    """Head hours to three figures that count; None is "not reached"."""
    return say("not reached") if value is None else f"{figure(value)} h"


def share_of(value: Values | None) -> str:
    """A chance or share with its limits in percent, as "62 % (41 to 80)"; "not known" where there is none."""
    if value is None or value["value"] is None:
        return not_known()
    low, high = (percent(value[end]).removesuffix(" %") for end in ("low", "high"))
    return f"{percent(value['value'])} ({say('{low} to {high}', low=low, high=high)})"


def price(value: Values) -> str:
    """An age with its limits; None is running to failure."""
    best, low, high = (
        say("run to failure") if value[end] is None else figure(value[end]) for end in ("value", "low", "high")
    )
    return best if best == low == high else f"{best} ({say('{low} to {high}', low=low, high=high)})"
