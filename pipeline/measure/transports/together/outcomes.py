"""What a shared cause does to a pair: the chance to lose both in a programme, and the time a year with neither."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.statistics import (
    SharedCause,
    both_lost,
    kaplan_meier,
    mtbf_limits,
    pair_availability,
    unit_availability,
)

PROGRAMMES_MIN = (30, 60, 120)  # lengths that rooms book; chances at others lie between
Limits = dict[str, float | None]


@dataclass(frozen=True)
class Year:
    """Hours of pairs a year at the pace of the data, and the seconds with neither machine good in the doubles seen,
    scaled to a year as well."""

    pair_h: float
    neither_s: float


def limits_of(share: SharedCause) -> Limits:
    """The share as plain values; without an event the value is None and the limits say nothing."""
    value = None if math.isnan(share.value) else share.value
    return {"value": value, "low": share.low, "high": share.high}


def programmes(rate_per_h: float, share: Limits, cover_h: float | None) -> list[dict[str, Any]]:
    """Chances of losing both in a programme, by its length and by whether a failed machine comes back in it.

    ``alone``: one machine without protect fails. ``apart``: both are lost where causes are never shared. ``together``:
    with the share seen and at its limits; the limits are those of the share alone, the rate is taken as it is. Without
    ``cover_h`` (mean hours until cover is back) only the rows without return are given.
    """
    returns = [None] if cover_h is None else [cover_h, None]
    return [_programme(minutes, rate_per_h, share, back) for minutes in PROGRAMMES_MIN for back in returns]


def _programme(minutes: int, rate_per_h: float, share: Limits, cover_h: float | None) -> dict[str, Any]:
    hours, back = minutes / 60, math.inf if cover_h is None else cover_h
    known = {name: part for name, part in share.items() if part is not None}
    return {
        "minutes": minutes,
        "returns": cover_h is not None,
        "alone": -math.expm1(-rate_per_h * hours),
        "apart": both_lost(rate_per_h, hours, cover_hours=back).chance,
        "together": {name: both_lost(rate_per_h, hours, part, cover_hours=back).chance for name, part in known.items()},
    }


def year(rate_per_h: float, share: Limits, cover_h: float | None, seen: Year) -> dict[str, Any] | None:
    """Seconds a year with no good machine, over the hours a year in which two run together.

    ``alone_s``: one machine without protect. ``apart_s``: a pair whose causes are never shared. ``together_s`` and
    ``losses_count``: with the share seen and at its limits. ``seen_s``: as the doubles seen lasted. In the long run,
    with a return after ``cover_h`` hours on average of each machine by itself. None without a rate or a return.
    """
    if cover_h is None or not rate_per_h:
        return None
    back, year_s = 1.0 / cover_h, seen.pair_h * 3600
    pairs = {name: pair_availability(rate_per_h, back, part) for name, part in share.items() if part is not None}
    return {
        "pair_h": seen.pair_h,
        "seen_s": seen.neither_s,
        "alone_s": (1.0 - unit_availability(rate_per_h, back).steady) * year_s,
        "apart_s": pair_availability(rate_per_h, back).unavailability * year_s,
        "together_s": {name: one.unavailability * year_s for name, one in pairs.items()},
        "losses_count": {name: one.losses_per_hour * seen.pair_h for name, one in pairs.items()},
    }


def cover(waits: Sequence[tuple[float, bool]]) -> dict[str, Any]:
    """How long after a single fault until both ran well again: mean with limits, and median.

    ``back_s`` is the time waited over the returns seen (exponential, exact 95 % limits); a wait that the end of the
    booking cuts counts as time and not as a return. ``median_s`` by Kaplan and Meier. None where nothing came back.
    """
    waited_s, returns = sum(wait for wait, _ in waits), sum(is_back for _, is_back in waits)
    known = {"waits_count": len(waits), "returns_count": returns, "waited_s": waited_s}
    if not returns or waited_s <= 0.0:
        return {**known, "back_s": {"value": None, "low": None, "high": None}, "median_s": None}
    low, high = mtbf_limits(returns, waited_s, 0.95)
    curve = kaplan_meier([wait for wait, _ in waits], [is_back for _, is_back in waits])
    return {**known, "back_s": {"value": waited_s / returns, "low": low, "high": high}, "median_s": curve.median}
