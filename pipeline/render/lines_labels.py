"""What the parts of a nested figure are called on the pages of lists."""

from __future__ import annotations

from pipeline.render.language import say
from pipeline.render.table_words import Words, by_language


@by_language
def labels() -> Words:
    """The label of a part by its name in figures.json."""
    return {**_times(), **_compared(), **_listed()}


@by_language
def sections() -> Words:
    """The headings of sections that are no term of the definitions."""
    return {"standby": say("Standby")}


def _times() -> Words:
    return {
        "median": say("Median"),
        "p90": say("90 % within"),
        "low": say("Lower limit"),
        "high": say("Upper limit"),
        "n": say("Times that apply"),
        "open": say("Of these cut short"),
        "value": say("Rate"),
        "continuity_low": say("Lower bound"),
        "continuity_high": say("Upper bound"),
    }


def _compared() -> Words:
    return {
        "ratio": say("Times as much"),
        "p": "p",
        "adjusted_p": say("Adjusted p"),
        "others": say("Against the others"),
        "before": say("Against the month before"),
        "past": say("Against the twelve months before"),
        "year_before": say("Against the same month of the year before"),
        "expected": say("Expected"),
        "evened": say("Evened rate"),
        "worst_count": say("Highest count of one transport"),
        "worst_by_luck": say("Chance that the highest is at least that by luck"),
        "shape": say("Shape of the spread"),
    }


def _listed() -> Words:
    return {
        "count": say("Events"),
        "stated": say("Stated on the ticket"),
        "running_ratio": say("Running share"),
        "offset_s": say("Offset"),
        "segments": say("Segment"),
        "pairs": say("Pairs", about="clock"),
    }
