"""Lists too long for a page as exact sums by day or month, so that what is not shown can still be added up."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

MICROSECOND = timedelta(microseconds=1)
Amount = tuple[datetime, datetime | None, int]  # began, ended, microseconds or a count


@dataclass(frozen=True)
class Bound:
    """A day or month: its name and where it begins (naive UTC); it ends where the next one begins."""

    name: str
    started_at_utc: datetime


@dataclass(frozen=True)
class Sum:
    """What falls into one bound: microseconds or a count, and how many items have a part in it."""

    name: str
    amount: int
    items: int


def sums(amounts: Iterable[Amount], bounds: Sequence[Bound], *, is_time: bool) -> list[Sum]:
    """The sums in order of ``bounds``, empty ones left out; they add up exactly to the sum of ``amounts``.

    A stretch whose amount is its own length is parted where a bound lies in it; anything else counts where it begins.
    What lies before the first bound counts for it. Without bounds: nothing.
    """
    if not bounds:
        return []
    starts = [bound.started_at_utc for bound in bounds]
    total, count = [0] * len(bounds), [0] * len(bounds)
    for began, ended, amount in amounts:
        place = max(0, bisect_right(starts, began) - 1)
        if is_time and ended is not None and (ended - began) // MICROSECOND == amount:
            while place + 1 < len(starts) and starts[place + 1] < ended:
                part = (starts[place + 1] - began) // MICROSECOND
                total[place] += part
                count[place] += 1
                began, amount, place = starts[place + 1], amount - part, place + 1  # noqa: PLW2901 - what is left
        total[place] += amount
        count[place] += 1
    return [Sum(bounds[at].name, total[at], count[at]) for at in range(len(bounds)) if count[at]]
