"""The formulas of derived figures, written down once more, on whole microseconds and counts.

They are those of the definitions, so that a figure is checked by a second hand and not by the one that made it; the
same formula on the same whole numbers gives the same float, bit for bit.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.evidence.scope import Number
from pipeline.statistics import kaplan_meier, poisson_limits

CONTINUITY = {
    "continuity": "1 − lost_s / (air_s − unknown_s)",
    "continuity_low": "1 − (lost_s + unknown_s) / air_s: all that is not known counted as lost",
    "continuity_high": "1 − lost_s / air_s: all that is not known counted as good",
}
RATE = "protect_switches_per_1000_air_h"
RATES = {
    f"{RATE}.value": "protect_switches / (air_s / 3600) × 1000",
    f"{RATE}.low": "the lower exact 95 % limit (Garwood) of protect_switches over air_s, per 1,000 h",
    f"{RATE}.high": "the upper exact 95 % limit (Garwood) of protect_switches over air_s, per 1,000 h",
}
QUANTILES = {
    "median": "the Kaplan–Meier median of the times listed under {of}",
    "p90": "the time within which 90 % had ended by the Kaplan–Meier curve of the times listed under {of}",
    "low": "the lower 95 % log-log limit of the median of the times listed under {of}",
    "high": "the upper 95 % log-log limit of the median of the times listed under {of}",
}


def continuity(name: str, air_us: int, lost_us: int, unknown_us: int) -> Number:
    """Continuity or one of its bounds, a share 0–1; None where there is no air time that it could be a share of."""
    if name == "continuity_low":
        return 1 - (lost_us + unknown_us) / air_us if air_us else None
    if name == "continuity_high":
        return 1 - lost_us / air_us if air_us else None
    known_us = air_us - unknown_us
    return 1 - lost_us / known_us if known_us else None


def rate(name: str, count: int, air_s: float) -> Number:
    """Protect switches per 1,000 air hours, or an exact limit of it; None without air time."""
    if air_s <= 0:
        return None
    exposure = air_s / 3600 / 1000.0
    low, high = poisson_limits(count, exposure)
    return {f"{RATE}.value": count / exposure, f"{RATE}.low": low, f"{RATE}.high": high}[name]


def quantiles(durations_s: Sequence[float], observed: Sequence[bool]) -> dict[str, Number]:
    """Median, p90, low and high in seconds by name; None where the curve does not get that far."""
    curve = kaplan_meier(durations_s, observed)
    return {"median": curve.median, "p90": curve.quantile(0.9), "low": curve.low, "high": curve.high}
