"""What the parts that run now may still do: the chance to last on, and the hours by which half of such parts failed.

Where the kind has failures enough, from its Weibull life; else from those of the kind that came as far and were watched
further, if there are any.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from pipeline.measure.transports.parts.reading import FAILED, RUNNING
from pipeline.statistics import (
    Estimates,
    WeibullRegion,
    chance_to_last,
    kaplan_meier,
    proportion_limits,
    remaining_median,
)

AHEAD_H = (100.0, 500.0)
MOST_RUNNING = 40  # of a kind, those with the least chance to last the next 100 h are kept
LEAST_FOLLOWED = 5  # of a kind without a fit: as many must have come as far and been watched to the end of the hours
KEPT = ("machine", "kind", "detail", "life_h", "in_place_days")


def judge_running(region: WeibullRegion | None, lives: pl.DataFrame) -> list[dict[str, Any]]:
    """The parts of one kind that run now, by machine: age, chance to last 100 and 500 h more, median remaining hours.

    ``basis`` is "weibull", "counted" or None, where nothing can be said. Bounded: with a fit the ``MOST_RUNNING`` of
    the least chance to last 100 h, else those with most hours.
    """
    running = lives.filter(pl.col("how") == RUNNING)
    ages = running["life_h"].to_numpy()
    order = -ages if region is None else _quick_chance(region, ages)
    kept = np.sort(np.argsort(order, kind="stable")[:MOST_RUNNING])
    rows = [{name: row[name] for name in KEPT} for row in running[kept.tolist()].iter_rows(named=True)]
    if region is None:
        return [{**row, **_counted(lives, row["life_h"])} for row in rows]
    ahead = {f"last_{hours:.0f}_h": chance_to_last(region, ages[kept], hours) for hours in AHEAD_H}
    found = {**ahead, "median_h": remaining_median(region, ages[kept])}
    return [
        {**row, "basis": "weibull", **{name: _at(values, place) for name, values in found.items()}}
        for place, row in enumerate(rows)
    ]


def _quick_chance(region: WeibullRegion, ages: np.ndarray[Any, np.dtype[np.float64]]) -> Any:
    """The chance to last the first of the hours ahead, without limits: enough to choose by."""
    shape, scale = region.fit.shape, region.fit.scale
    return np.exp((ages / scale) ** shape - ((ages + AHEAD_H[0]) / scale) ** shape)


def _at(values: Estimates, place: int) -> dict[str, float]:
    return {name: float(getattr(values, name)[place]) for name in ("value", "low", "high")}


def _counted(lives: pl.DataFrame, age_h: float) -> dict[str, Any]:
    """Chances from the lives of the kind that came to this age and were watched on; no median without a fit."""
    further = lives.filter(pl.col("life_h") > age_h)
    ahead = further["life_h"].to_numpy() - age_h
    failed = further["how"].to_numpy() == FAILED
    chances = {f"last_{hours:.0f}_h": _chance(ahead, failed, hours) for hours in AHEAD_H}
    return {"basis": "counted" if any(chances.values()) else None, **chances, "median_h": None}


def _chance(ahead: Any, failed: Any, hours: float) -> dict[str, float] | None:
    """The Kaplan-Meier chance of those watched on, with exact limits of the share that was watched to the end."""
    lasted, lost = int((ahead >= hours).sum()), int((failed & (ahead < hours)).sum())
    if lasted + lost < LEAST_FOLLOWED:
        return None
    table = kaplan_meier(ahead, failed).table
    before = table.survival[table.time < hours]
    value = float(before[-1]) if before.size else 1.0
    low, high = proportion_limits(lasted, lasted + lost)
    return {"value": value, "low": min(low, value), "high": max(high, value)}
