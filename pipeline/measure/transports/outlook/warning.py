"""Early warning: a running sum of each machine's protect switches, and two signs that lead them.

A sum is slow to alarm by chance and quick to notice a rate that has doubled. Time to lock and the first offset after a
start creep before anything is lost, if a head or a servo wears.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from pipeline.measure.transports.finite import finite
from pipeline.measure.transports.outlook.reading import Material, Sign, Watch
from pipeline.measure.transports.outlook.trend import CONFIDENCE
from pipeline.statistics import cusum_height, monotone_drift, poisson_cusum, poisson_cusum_run_length

ALARM_CHANCE = 0.025  # of any false alarm in the room over the whole record: the warning's half of the page's 0.05
RATIO = 2.0  # the raised rate that is sought, over the room's own
LEAST_STARTS = 10  # readings of a sign below which no creep is tested
WEEK_H = 168.0
DAYS = 30  # a slope is told in seconds by so many days
SAME_AGE_H = 1e-7  # two ages added up in another order may differ by as much


def watch_rates(watches: Sequence[Watch], weeks: Sequence[str]) -> tuple[dict[str, Any] | None, list[dict[str, Any]]]:
    """The design of the running sum, and for each watch where its sum stands and when it first alarmed.

    In control: the room's own rate; sought: twice that. The height is the least at which all machines together give any
    false alarm with at most ``ALARM_CHANCE`` over the whole record. Without a switch in the room there is no design and
    no row says anything.
    """
    count, hours = sum(watch.events_h.size for watch in watches), sum(watch.end_h for watch in watches)
    if not count:
        return None, [_nothing() for _ in watches]
    rate = count / hours
    h = _height(tuple(sorted(rate * watch.end_h for watch in watches)))
    rows = [_watched(watch, rate, h, weeks) for watch in watches]
    return _design(watches, rate, h), rows


@lru_cache(maxsize=1024)
def _height(expected: tuple[float, ...]) -> float:
    return cusum_height(expected, RATIO, ALARM_CHANCE)


def _design(watches: Sequence[Watch], rate: float, h: float) -> dict[str, Any]:
    """Rate, reference, height, and the average run lengths of a machine with the room's mean hours a week.

    Weeks are seven days of the record: the calendar's first and last are often cut short and do not count as whole.
    """
    weeks_count = sum(watch.watched_h for watch in watches) / WEEK_H
    mean = rate * sum(watch.end_h for watch in watches) / weeks_count
    reference = mean * (RATIO - 1) / math.log(RATIO)
    run_in, run_out = (poisson_cusum_run_length(value, reference, h) for value in (mean, RATIO * mean))
    return {
        "alarm_chance": ALARM_CHANCE,
        "ratio": RATIO,
        "in_control_per_1000_h": 1000 * rate,
        "reference_per_1000_h": 1000 * rate * (RATIO - 1) / math.log(RATIO),
        "h_count": h,
        "mean_week_count": mean,
        "run_length_in_control_weeks": finite(run_in),
        "run_length_out_of_control_weeks": finite(run_out),
    }


def _watched(watch: Watch, rate: float, h: float, weeks: Sequence[str]) -> dict[str, Any]:
    path, alarms = poisson_cusum(week_counts(watch), watch.week_h, rate, RATIO * rate, h)
    first = int(np.argmax(alarms)) if alarms.any() else None
    return {
        "sum_count": float(path[-1]),
        "highest_count": float(path.max()),
        "is_alarm": first is not None,
        "alarm_week": None if first is None or not weeks else weeks[int(watch.week_no[first])],
    }


def week_counts(watch: Watch) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Protect switches in each of its weeks with air: by age, so that one at a week's last second is in it."""
    ends = np.cumsum(watch.week_h) + SAME_AGE_H
    places = np.minimum(np.searchsorted(ends, watch.events_h), watch.week_h.size - 1)
    return np.bincount(places, minlength=watch.week_h.size)


def _nothing() -> dict[str, Any]:
    return {"sum_count": None, "highest_count": None, "is_alarm": False, "alarm_week": None}


def judge_sign(sign: Sign, cut_day: float) -> dict[str, Any]:
    """Median before and in the last part of the record, slope with limits, and the test that nothing creeps.

    The test is None below ``LEAST_STARTS`` readings, or where all readings are the same. An adjusted p is filled in
    with the other tests of the page.
    """
    is_late = sign.days >= cut_day
    drift = monotone_drift(sign.days, sign.values_s, CONFIDENCE) if sign.days.size >= LEAST_STARTS else None
    slope = None if drift is None else {name: DAYS * getattr(drift, name) for name in ("slope", "low", "high")}
    return {
        "starts_count": sign.starts_count,
        "readings_count": int(sign.days.size),
        "by": "weeks" if sign.by_week else "starts",
        "before_s": _median(sign.values_s[~is_late]),
        "now_s": _median(sign.values_s[is_late]),
        "slope_s_per_30_days": None if slope is None else {"value": slope.pop("slope"), **slope},
        "test": None if drift is None else {"tau": drift.tau, "p": drift.p, "adjusted_p": None},
    }


def _median(values: np.ndarray[Any, np.dtype[np.float64]]) -> float | None:
    return float(np.median(values)) if values.size else None


def judge_signs(material: Material) -> dict[str, dict[str, dict[str, Any]]]:
    """Machine → sign → ``judge_sign``; a machine without a reading of a sign has no entry for it."""
    found: dict[str, dict[str, dict[str, Any]]] = {}
    for sign in material.signs:
        found.setdefault(sign.machine, {})[sign.sign] = judge_sign(sign, material.cut_day)
    return found
