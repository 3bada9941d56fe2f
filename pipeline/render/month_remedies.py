"""Remedies being watched, in words: what was done, how the machine has done since, and what that can tell."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pipeline.render.cause_names import cause_text
from pipeline.render.language import decimal, say
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.words import hours, percent

ON_THE_SHEET = 5
LONG_H = 87_660.0  # ten years of 8,766 h: a quiet that nobody waits for
LONGEST_ACTION = 60


def remedies_of(reading: Reading, month: str) -> tuple[Rows, int]:
    """The month's remedies with their words, newest first, and how many more there were than figures.json lists."""
    found = next((entry for entry in reading.figures["remedies"] if entry["month"] == month), None)
    if found is None:
        return [], 0
    return [_told(reading, remedy) for remedy in found["remedies"]], found["left_out"]


def _told(reading: Reading, remedy: Mapping[str, Any]) -> Row:
    done = datetime.fromisoformat(remedy["done"].removesuffix("Z"))
    return {
        **remedy,
        "done_words": reading.local.minute(done),
        "done_day": f"{reading.local.wall(done):%Y-%m-%d}",
        "did": did(remedy),
        "cause": cause_text(remedy["top"], remedy["second"]),
        "same_word": says_word(remedy["same"]["says"]) if remedy["same"] else say("cause not known"),
        "all_word": says_word(remedy["all"]["says"]),
    }


def did(remedy: Mapping[str, Any]) -> str:
    """What was done, as the ticket says, cut to a line; the part where the action is empty."""
    text = " ".join((remedy["action"] or remedy["part"] or "").split())
    return text if len(text) <= LONGEST_ACTION else text[: LONGEST_ACTION - 1].rstrip() + "…"


def says_word(says: str) -> str:
    """The word of figures.json for a comparison, as it is printed."""
    return {
        "fewer": say("fewer than luck gives easily"),
        "more": say("more than luck gives easily"),
        "cannot be told yet": say("cannot be told yet"),
    }[says]


def quiet_words(counted: Mapping[str, Any], since_s: float) -> str:
    """After how many air hours without one event a quiet would tell; what the hours since leave of it."""
    needed = counted["quiet_h"]
    if needed is None:
        return say("never: there was none before")
    if counted["since"]:
        return say("there was one since")
    if needed > LONG_H:
        return say("over ten years of air")
    left = needed - since_s / 3600
    return say("now") if left <= 0 else say("{hours} more", hours=hours(left * 3600))


def counted_words(count: int, seconds: float) -> str:
    """Events and the air hours they come from."""
    return say("{count} in {hours}", count=count, hours=hours(seconds))


def power_words(counted: Mapping[str, Any]) -> str:
    """The chance that the hours since would have shown a remedy that halves the rate."""
    power = counted["half_power"]
    if power is None:
        return say("none")
    return say("under {least}", least=f"{decimal(1, 0)} %") if power < 0.01 else percent(power)
