"""How many protect switches and lost seconds the next twelve months bring, and how such forecasts did before.

A forecast that nobody has tried is an opinion. The same rule is fitted on the first part of the record and held against
the rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from pipeline.measure.transports.outlook.reading import FloatArray, Watch
from pipeline.measure.transports.outlook.trend import (
    CONFIDENCE,
    LEAST_EVENTS,
    POOL_AT_MOST,
    adjust,
    find_trend,
    stands,
    trend_tests,
)
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.statistics import (
    CountForecast,
    forecast_power_law,
    forecast_steady,
    gamma_poisson_shrinkage,
    hierarchical_rates,
    poisson_prediction_limits,
)

MONTHS = 12
LARGEST_EXPONENT = 300.0  # e to it is beyond any count, and still a number when multiplied
LEAST_LOSSES = 5  # below it the limits of lost seconds are not told
LEAST_SPAN_H = 6 * 7 * 24  # a forecast for a year from less than six weeks is refused
Limits = dict[str, Any]


def hours_a_year(watch: Watch) -> float:
    """Hours on air in a year at the pace of its record."""
    return watch.end_h * HOURS_A_YEAR / watch.watched_h


def evened_rates(counts: FloatArray, hours: FloatArray) -> FloatArray:
    """Switches per hour of each machine, pulled towards the room's rate, as on the page of rates side by side.

    Gamma-Poisson over every spread between machines that the counts allow (``hierarchical_rates``). With more than
    ``POOL_AT_MOST`` machines the spread is known well enough: one law is fitted, on those with most hours.
    """
    if counts.size <= POOL_AT_MOST:
        return np.asarray(hierarchical_rates(counts, hours).mean)
    pool = np.argsort(-hours, kind="stable")[:POOL_AT_MOST]
    fit = gamma_poisson_shrinkage(counts[pool], hours[pool])
    if math.isinf(fit.shape):
        return np.full(counts.size, counts.sum() / hours.sum())
    return np.asarray((fit.shape + counts) / (fit.rate + hours))


class Forecasts:
    """The year ahead of each machine; what is alike is worked out once."""

    def __init__(self, losses_s: FloatArray) -> None:
        self.losses_s = losses_s
        self._totals: dict[tuple[int, float], tuple[float, float] | None] = {}

    def steady(self, count: int, ratio: float, mean: float) -> dict[str, Any]:
        """Of a machine with ``count`` switches whose rate stays, over ``ratio`` times its hours so far."""
        law, key = forecast_steady(count, 1.0, ratio), (count, round(ratio, 9))
        if key not in self._totals:
            self._totals[key] = self._total(law)
        return self._row("steady", law.limits(CONFIDENCE), self._totals[key], mean)

    def changing(self, events_h: FloatArray, end_h: float, ahead_h: float) -> dict[str, Any]:
        """Of a machine whose trend stands, if its power law goes on; the mean is the fitted law carried on."""
        law = forecast_power_law(events_h, end_h, ahead_h)
        beta = (events_h.size - 1) / float(np.log(end_h / events_h).sum())
        mean = events_h.size * math.expm1(min(beta * math.log1p(ahead_h / end_h), LARGEST_EXPONENT))
        return self._row("changing", law.limits(CONFIDENCE), self._total(law), mean)

    def _total(self, law: CountForecast) -> tuple[float, float] | None:
        return law.total_limits(self.losses_s, CONFIDENCE) if self.losses_s.size >= LEAST_LOSSES else None

    def _row(self, basis: str, switches: tuple[int, int], total: tuple[float, float] | None, mean: float) -> Limits:
        lost = (None, None) if total is None else total
        each = float(self.losses_s.mean()) if self.losses_s.size else None
        return {
            "basis": basis,
            "switches": {"mean": mean, "low": switches[0], "high": switches[1]},
            "lost_s": {"mean": None if each is None else mean * each, "low": lost[0], "high": lost[1]},
        }


def forecast_machines(
    watches: Sequence[Watch], changing: Sequence[bool], losses_s: FloatArray
) -> list[dict[str, Any] | None]:
    """One forecast a watch in its order; None for a retired machine."""
    forecasts = Forecasts(losses_s)
    counts = np.array([float(watch.events_h.size) for watch in watches])
    hours = np.array([watch.end_h for watch in watches])
    rates = evened_rates(counts, hours) if watches else hours
    found: list[dict[str, Any] | None] = []
    for watch, rate, is_changing in zip(watches, rates, changing, strict=True):
        ahead = hours_a_year(watch)
        if watch.is_retired:
            found.append(None)
        elif is_changing:
            found.append(forecasts.changing(watch.events_h, watch.end_h, ahead))
        else:
            found.append(forecasts.steady(watch.events_h.size, ahead / watch.end_h, float(rate) * ahead))
    return found


def carry_on(watch: Watch) -> dict[str, int] | None:
    """Limits of a machine's switches in the year if its own fitted curve goes on, whether or not its trend stands.

    None below ``LEAST_EVENTS`` events, for a retired machine, and where no event lies before the end of the watch.
    """
    events = watch.events_h
    if watch.is_retired or events.size < LEAST_EVENTS or (events == watch.end_h).all():
        return None
    low, high = forecast_power_law(events, watch.end_h, hours_a_year(watch)).limits(CONFIDENCE)
    return {"low": low, "high": high}


def forecast_room(watches: Sequence[Watch], losses_s: FloatArray) -> dict[str, Any] | None:
    """The year of all machines that are not retired together, at the room's rate; None where all are."""
    present = [watch for watch in watches if not watch.is_retired]
    if not present:
        return None
    count, hours = sum(watch.events_h.size for watch in present), sum(watch.end_h for watch in present)
    ahead = sum(hours_a_year(watch) for watch in present)
    return {"air_h_per_year": ahead} | Forecasts(losses_s).steady(count, ahead / hours, count * ahead / hours)


def replay(watches: Sequence[Watch]) -> dict[str, Any]:
    """Fit on the first part of the time, forecast the rest at the hours it really had, and count.

    ``machines``: those with hours in both parts, with the limits forecast and the count that came; ``room``: the same
    for their sum; ``inside_count``: machines whose count fell inside. A machine's rule is that of the forecast: the
    power law where its trend in the first part stands among all machines', else the exact limits of a steady rate.
    """
    tried = [watch for watch in watches if watch.cut_h > 0 and watch.end_h > watch.cut_h]
    first = [watch.events_h[watch.events_h <= watch.cut_h] for watch in tried]
    trends = [
        find_trend(np.minimum(events, watch.cut_h), watch.cut_h) for events, watch in zip(first, tried, strict=True)
    ]
    adjust(test for trend in trends for test in trend_tests(trend))
    rows = [_tried(watch, events, stands(trend)) for watch, events, trend in zip(tried, first, trends, strict=True)]
    return {
        "confidence": CONFIDENCE,
        "machines": rows,
        "inside_count": sum(row["is_inside"] for row in rows),
        "room": _tried_room(tried, rows) if rows else None,
    }


def _tried(watch: Watch, first: FloatArray, is_changing: bool) -> dict[str, Any]:
    rest_h, came = watch.end_h - watch.cut_h, int(watch.events_h.size - first.size)
    law = (
        forecast_power_law(first, watch.cut_h, rest_h)
        if is_changing
        else forecast_steady(first.size, watch.cut_h, rest_h)
    )
    low, high = law.limits(CONFIDENCE)
    return {
        "machine": watch.machine,
        "basis": "changing" if is_changing else "steady",
        "fitted_count": int(first.size),
        "fitted_h": watch.cut_h,
        "ahead_h": rest_h,
        "low": low,
        "high": high,
        "came_count": came,
        "is_inside": low <= came <= high,
    }


def _tried_room(tried: Sequence[Watch], rows: Sequence[dict[str, Any]]) -> dict[str, Any]:
    count, came = sum(row["fitted_count"] for row in rows), sum(row["came_count"] for row in rows)
    fitted_h, ahead_h = sum(watch.cut_h for watch in tried), sum(row["ahead_h"] for row in rows)
    low, high = poisson_prediction_limits(count, fitted_h, ahead_h, CONFIDENCE)
    return {
        "fitted_count": count,
        "low": low,
        "high": high,
        "came_count": came,
        "is_inside": low <= came <= high,
    }
