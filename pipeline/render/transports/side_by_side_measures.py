"""The two measures in which transports are held against each other, on air and as protect: their names in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say
from pipeline.render.words import counted

Found = Mapping[str, Any]


def of_measure(found: Found, name: str) -> Found:
    """One of the two measures."""
    return next(measure for measure in found["measures"] if measure["measure"] == name)


def tested(found: Found) -> list[Found]:
    """The measures in which machines were held against each other."""
    return [measure for measure in found["measures"] if any(row["p"] is not None for row in measure["machines"])]


def events(measure: Found) -> str:
    """What a measure counts, many of them."""
    return {"air": say("protect switches"), "protect": say("losses of cover")}[measure["measure"]]


def counted_events(measure: Found, number: int) -> str:
    """A number of what a measure counts."""
    if measure["measure"] == "air":
        return counted(number, "protect switch", "protect switches")
    return counted(number, "loss of cover", "losses of cover")


def rates(measure: Found) -> str:
    """What a measure compares."""
    named = {"air": say("protect switches per air hour"), "protect": say("losses of cover per protect hour")}
    return named[measure["measure"]]
