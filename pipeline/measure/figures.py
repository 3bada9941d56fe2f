"""The figures of one group: seconds by state, continuity with its bounds, counts, rates with limits, recovery times."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.measure.groups import Key, Metrics, select, sums
from pipeline.statistics import kaplan_meier, poisson_limits

SECONDS = (
    "air", "lost", "unknown", "covered", "unproved", "exposed", "exposed_none_booked", "exposed_not_good",
    "exposed_out_of_step", "elsewhere", "rescued", "overrun",
)  # fmt: skip
COUNTS = (
    "interruptions", "forced", "precaution", "unexplained", "planned", "return", "demands", "demands_met",
    "demands_healed", "demands_unprotected",
)  # fmt: skip
TIMES = {
    "to_air_s": "is_back",
    "to_take_s": "is_taken",
    "to_cover_s": "is_covered_again",
    "to_service_s": "is_restored",
}
MICROSECONDS = 1_000_000
RATE_HOURS = 1000.0


def group_figures(metrics: Metrics, key: Key) -> dict[str, Any]:
    """FIGURES of the rows that match ``key`` (an empty key: all).

    Seconds are floats exact to the microsecond; continuity is a share 0–1 or None where nothing was known; rates are
    events per 1,000 air hours with exact (Garwood) 95 % limits, None without air time; times to recover in seconds.
    """
    total = sums(metrics, key)
    figures: dict[str, Any] = {f"{name}_s": total.get(f"{name}_us", 0) / MICROSECONDS for name in SECONDS}
    figures |= continuity(total.get("air_us", 0), total.get("lost_us", 0), total.get("unknown_us", 0))
    figures |= {name: total.get(f"{name}_count", 0) for name in COUNTS}
    figures["protect_switches"] = figures["forced"] + figures["precaution"] + figures["unexplained"]
    figures["protect_switches_per_1000_air_h"] = rate_per_1000_h(figures["protect_switches"], figures["air_s"])
    recoveries = select(metrics.recoveries, key)
    figures |= {name: recovery_times(recoveries, name, flag) for name, flag in TIMES.items()}
    if "machine" in key:
        figures["protect_s"] = total.get("protect_us", 0) / MICROSECONDS
        figures["cover_losses"] = total.get("cover_losses_count", 0)
    return figures


def continuity(air_us: int, lost_us: int, unknown_us: int) -> dict[str, float | None]:
    """1 − lost / (air − unknown), with its bounds: unknown all lost (low) and unknown all good (high)."""
    known_us = air_us - unknown_us
    return {
        "continuity": 1 - lost_us / known_us if known_us else None,
        "continuity_low": 1 - (lost_us + unknown_us) / air_us if air_us else None,
        "continuity_high": 1 - lost_us / air_us if air_us else None,
    }


def rate_per_1000_h(count: int, air_s: float) -> dict[str, float | None]:
    """``count`` per 1,000 h of ``air_s`` seconds, with exact 95 % limits; all None without air time."""
    if air_s <= 0:
        return {"value": None, "low": None, "high": None}
    exposure = air_s / 3600 / RATE_HOURS
    low, high = poisson_limits(count, exposure)
    return {"value": count / exposure, "low": low, "high": high}


def recovery_times(recoveries: pl.DataFrame, name: str, flag: str) -> dict[str, Any]:
    """Kaplan–Meier median, 90 % quantile and limits of the median of column ``name``; ``flag`` false: cut short.

    Rows where the time does not apply are null and left out; ``n`` counts the rest, ``open`` those cut short.
    """
    rows = recoveries.filter(pl.col(name).is_not_null())
    durations = rows[name].to_list()
    observed = rows[flag].to_list()
    curve = kaplan_meier(durations, observed)
    return {
        "median": curve.median,
        "p90": curve.quantile(0.9),
        "low": curve.low,
        "high": curve.high,
        "n": len(durations),
        "open": observed.count(False),
    }
