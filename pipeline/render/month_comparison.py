"""A month against the room's own past: sentences to be read aloud, and the rows of the table behind them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say
from pipeline.render.sheet import year_before
from pipeline.render.words import figure, listed, month_name

Figures = Mapping[str, Any]
EASILY = 0.05  # the usual line between what chance gives easily and what it gives seldom


def comparison_sentence(month: Figures, compared: Figures) -> str:
    """The month's rate against its past, the month before and the same month a year before, chance allowed for."""
    rows = compared_with(month["month"], compared)
    rate = figure(month["protect_switches_per_1000_air_h"]["value"])
    if not rows:
        return say(
            "That is {rate} per 1,000 air h; there is no other month of this room to compare it with.", rate=rate
        )
    values = {"rate": rate, "ratios": listed([_ratio_words(row, name) for row, name in rows])}
    seldom = [name for row, name in rows if is_seldom(row)]
    if not seldom:
        return say("That is {rate} per 1,000 air h: {ratios}, which chance alone gives easily.", **values)
    if len(seldom) == len(rows):
        return say("That is {rate} per 1,000 air h: {ratios}, which chance alone would seldom give.", **values)
    return say(
        "That is {rate} per 1,000 air h: {ratios}. Chance alone would seldom give the difference from {names}; the "
        "rest it gives easily.",
        **values, names=listed(seldom),
    )  # fmt: skip


def compared_with(month: str, compared: Figures) -> list[tuple[Figures, str]]:
    """What the month is compared with and its name in words.

    The first holds the others, so that one of them with as many air hours is all there is in it, and is left out.
    """
    if compared["past"] is not None:
        base, name = compared["past"], say("the twelve months before", about="compared")
    else:
        base, name = compared["others"], say("the room's other months together", about="compared")
    if base is None:
        return []
    rest = [
        (compared["before"], say("the month before", about="compared")),
        (compared["year_before"], say("{month}", about="compared", month=month_name(year_before(month)))),
    ]
    kept = [(row, words) for row, words in rest if row is not None and row["air_s"] != base["air_s"]]
    return [(base, name), *kept]


def _ratio_words(row: Figures, name: str) -> str:
    if row["ratio"] is None and row["low"] == 0:
        return say("as little as in {name}", name=name)
    if row["ratio"] is None:
        return say("at least {low} times {name}", low=figure(row["low"]), name=name)
    return say("{ratio} times {name}", ratio=figure(row["ratio"]), name=name)


def is_seldom(row: Figures) -> bool:
    """Whether chance alone would seldom give the difference, by the p that allows for the number of months if any."""
    return bool(row.get("adjusted_p", row["p"]) < EASILY)


def comparison_rows(month: str, compared: Figures) -> list[dict[str, Any]]:
    """The rows of the table: what with (``words``), the figures' place among the comparisons (``place``), numbers."""
    names = {
        "past": say("the twelve months before together"),
        "others": say("all other months together"),
        "before": say("the month before"),
        "year_before": month_name(year_before(month)),
    }
    return [
        {**compared[place], "place": place, "words": words, "is_seldom": is_seldom(compared[place])}
        for place, words in names.items()
        if compared[place] is not None
    ]
