"""How the page on pairs writes shares and chances."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import decimal, say, whole
from pipeline.render.words import not_applicable, not_known, share


def share_with_limits(limits: Mapping[str, Any]) -> str:
    """Such as "13.1 % (5.5 % to 24.4 %)"; without a failure "not known"."""
    if limits["value"] is None:
        return not_known()
    ends = say("{low} to {high}", low=share(limits["low"], 1), high=share(limits["high"], 1))
    return f"{share(limits['value'], 1)} ({ends})"


def once_in(probability: float | None) -> str:
    """A chance as "once in 170", two figures that count; "never" for none, "n/a" where there is no number."""
    if probability is None:
        return not_applicable()
    if probability <= 0.0:
        return say("never")
    every = 1.0 / probability
    if every < 9.95:
        return say("once in {count}", count=decimal(every, 1))
    step = 10 ** (len(str(round(every))) - 2)
    return say("once in {count}", count=whole(round(every / step) * step))
