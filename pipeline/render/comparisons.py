"""Comparisons that need limits: a month against the others, demands met, transports against luck.

They are worked out from the figures alone and returned as plain values, so that they can be kept beside them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from scipy import special

from pipeline.render.sheet import year_before
from pipeline.statistics import (
    ShrunkenRates,
    benjamini_hochberg,
    gamma_poisson_shrinkage,
    poisson_prediction_limits,
    proportion_limits,
    rate_ratio,
)

Figures = Mapping[str, Any]
HOUR = 3600.0
PAST_MONTHS = 12


def compare_rates(group: Figures, others: Sequence[Figures]) -> dict[str, Any] | None:
    """Protect switches of ``group`` against those of ``others`` together; None where either has no air time.

    Gives count, air_s and value (per 1,000 air h) of the others, and ratio (group over others) with exact conditional
    95 % limits and the two-sided p (see ``rate_ratio``). Ratio None: no event in either; high infinite is None too.
    """
    count = sum(other["protect_switches"] for other in others)
    air_s = sum(other["air_s"] for other in others)
    if air_s <= 0 or group["air_s"] <= 0:
        return None
    ratio, low, high, p = rate_ratio(group["protect_switches"], group["air_s"], count, air_s)
    return {
        "count": count,
        "air_s": air_s,
        "value": 1000 * HOUR * count / air_s,
        "ratio": _finite(ratio),
        "low": low,
        "high": _finite(high),
        "p": p,
    }


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None


def compare_all(figures: Figures) -> dict[str, Any]:
    """What the pages compare, of the content of figures.json: ``compare_months`` and ``compare_transports``."""
    return {
        "months": compare_months(figures["months"]),
        "transports": compare_transports(figures["machines"]),
    }


def compare_months(months: Sequence[Figures]) -> list[dict[str, Any]]:
    """For each month what it is compared with, each as ``compare_rates`` gives it, or None where there is none of it.

    ``others``: all the other months together. ``past``: the twelve months before, where there are so many. ``before``:
    the month before. ``year_before``: the same month of the year before. The p of ``others`` and ``past`` are adjusted
    (Benjamini–Hochberg) for the number of months so compared. ``expected``: see ``expected_count``, of ``past`` or else
    ``others``. ``demands_met``: see there.
    """
    by_name = {month["month"]: month for month in months}
    rows = [_month_row(months, place, by_name.get(year_before(month["month"]))) for place, month in enumerate(months)]
    for name in ("others", "past"):
        _adjust([row[name] for row in rows if row[name] is not None])
    return rows


def _month_row(months: Sequence[Figures], place: int, same: Figures | None) -> dict[str, Any]:
    month = months[place]
    others = compare_rates(month, [other for other in months if other is not month])
    past = compare_rates(month, months[place - PAST_MONTHS : place]) if place >= PAST_MONTHS else None
    return {
        "month": month["month"],
        "others": others,
        "past": past,
        "before": compare_rates(month, [months[place - 1]]) if place else None,
        "year_before": compare_rates(month, [same]) if same is not None else None,
        "expected": expected_count(month, past or others),
        "demands_met": demands_met(month),
    }


def expected_count(month: Figures, base: Figures | None) -> dict[str, int] | None:
    """How many protect switches the rate of ``base`` would give in the month's air by chance, 95 of 100 times.

    Exact Poisson prediction limits (``poisson_prediction_limits``): both low and high lie inside. They allow for what
    the base does not know of its own rate too, so that they are wider than limits of a known rate.
    """
    if base is None:
        return None
    low, high = poisson_prediction_limits(base["count"], base["air_s"], month["air_s"])
    return {"low": low, "high": high}


def _adjust(compared: Sequence[dict[str, Any]]) -> None:
    if compared:
        adjusted = benjamini_hochberg([row["p"] for row in compared])
        for row, p in zip(compared, adjusted, strict=True):
            row["adjusted_p"] = float(p)


def demands_met(group: Figures) -> dict[str, Any]:
    """Share of demands met with exact 95 % limits; the share is None where there was no demand."""
    met, asked = group["demands_met"], group["demands"]
    low, high = proportion_limits(met, asked)
    return {"ratio": met / asked if asked else None, "low": low, "high": high}


def compare_transports(machines: Sequence[Figures]) -> dict[str, Any]:
    """What the manager's page needs beside the figures: rates evened out, and how far luck alone would go.

    ``machines``: per machine with air time its comparison with the others together and its evened rate (gamma–Poisson,
    per 1,000 air h, with 95 % limits). ``worst_count`` is the highest count of protect switches, ``worst_by_luck`` the
    chance that the highest of all is at least that, if all had the room's rate: 1 − Π P(count < worst).
    """
    flown = [machine for machine in machines if machine["air_s"] > 0]
    if not flown:
        return {"machines": {}, "worst_count": 0, "worst_by_luck": None, "shape": None}
    hours = [machine["air_s"] / HOUR for machine in flown]
    counts = [machine["protect_switches"] for machine in flown]
    evened = gamma_poisson_shrinkage(counts, hours) if sum(counts) else None
    compared = [compare_rates(machine, [other for other in flown if other is not machine]) for machine in flown]
    _adjust([row for row in compared if row is not None])
    rows = {
        machine["machine"]: {"others": row, "evened": _evened(evened, place)}
        for place, (machine, row) in enumerate(zip(flown, compared, strict=True))
    }
    shape = None if evened is None or not math.isfinite(evened.shape) else float(evened.shape)
    rate = sum(counts) / sum(hours)
    worst = max(counts)
    return {"machines": rows, "worst_count": worst, "worst_by_luck": worst_by_luck(worst, rate, hours), "shape": shape}


def _evened(evened: ShrunkenRates | None, place: int) -> dict[str, float] | None:
    if evened is None:
        return None
    return {
        name: 1000 * float(numbers[place])
        for name, numbers in (("value", evened.mean), ("low", evened.low), ("high", evened.high))
    }


def worst_by_luck(count: int, rate: float, hours: Sequence[float]) -> float | None:
    """Chance that the highest of Poisson counts with one rate and these exposures reaches ``count``; None for none."""
    if count < 1:
        return None
    return 1 - math.prod(float(special.pdtr(count - 1, rate * extent)) for extent in hours)
