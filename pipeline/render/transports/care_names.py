"""The names of the kinds of care, and how ratios and shares of care read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pipeline.render.language import decimal, say, say_counted
from pipeline.render.words import duration, figure, hours, limits, not_applicable, share

HOUR = 3600.0
DONE = ("clean", "lineup")  # the kinds that are done or not; the others are parted by a cut
Found = Mapping[str, Any]


def titles() -> dict[str, str]:
    """The kinds of care by their keys in figures.json."""
    return {
        "clean": say("cleaning"), "lineup": say("line-up"), "warm_up": say("warm-up"), "head": say("age of the head"),
    }  # fmt: skip


def groups(found: Found) -> dict[str, tuple[str, str]]:
    """The words of less and of more care for every item."""
    warm, cut = duration(found["cuts"]["warm_up_s"]), found["cuts"]["head_h"]
    head = say("the middle of the room") if cut is None else hours(cut * HOUR)
    return {
        "clean": (say("not cleaned before"), say("cleaned before")),
        "lineup": (say("not lined up before"), say("lined up before")),
        "warm_up": (
            say("heard for less than {time} before", time=warm),
            say("heard for {time} or more before", time=warm),
        ),
        "head": (
            say("on a head with more than {hours}", hours=head),
            say("on a head with at most {hours}", hours=head),
        ),
    }


def cleaning_of(count: int) -> str:
    """Such as "cleaning of 2 machines"."""
    return say_counted("cleaning of {n} machine", "cleaning of {n} machines", count)


def lineup_of(count: int) -> str:
    """Such as "line-up of 2 machines"."""
    return say_counted("line-up of {n} machine", "line-up of {n} machines", count)


def number(value: float | None) -> str:
    """A ratio; None is one without limit."""
    return figure(math.inf if value is None else value)


def limits_text(row: Found) -> str:
    """The limits of a ratio, such as "0.93 to 4.02" or "1.20 or more"."""
    return say("{low} or more", low=figure(row["low"])) if row["high"] is None else limits(row["low"], row["high"])


def ratio_text(row: Found | None, without: str | None = None) -> str:
    """A ratio and its limits, such as "2.00 (0.93 to 4.02)" or "without limit (1.20 or more)"; else "n/a"."""
    if row is None:
        return not_applicable() if without is None else without
    return f"{number(row['value'])} ({limits_text(row)})"


def share_text(row: Found) -> str:
    """A share and its limits, such as "99.5 % (97.1 to 100.0 %)"."""
    if not row["known_count"]:
        return say("not recorded")
    ends = say("{low} to {high}", low=decimal(100 * row["low"], 1), high=decimal(100 * row["high"], 1))
    return f"{share(row['count'], row['known_count'])} ({ends} %)"
