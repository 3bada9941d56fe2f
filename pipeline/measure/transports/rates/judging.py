"""Is any transport different beyond chance? Each against the others, by class of work, evened out; what could be seen.

Here are numbers only, no database: rooms whose truth is known pass through the same functions as a real one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.measure.transports.finite import finite
from pipeline.measure.transports.rates.work import PARTS, Work
from pipeline.statistics import (
    benjamini_hochberg,
    detectable_ratio,
    dispersion_test,
    exposure_factor,
    hierarchical_rates,
    hierarchical_worst,
    poisson_limits,
    rate_ratio,
    standardised_ratio,
)

LEVEL = 0.05  # adjusted probabilities below it name a machine
POWER = 0.8
TWICE = 2.0
PER_H = 1000.0
MONTH_H = 730.5  # a twelfth of 365.25 days
MOST_MACHINES = 60  # with most hours; of more, power, evened rates and work are not worked out
MOST_MONTHS = 1200.0  # a hundred years are never
Result = dict[str, Any]


def name_machines(measures: Sequence[Work]) -> list[list[Result]]:
    """Every machine of every measure against the others, in the order given, and whether it is named as different.

    The exact conditional test of two rates (``rate_ratio``); ``adjusted_p`` by Benjamini and Hochberg over the tests of
    all measures together. A measure without an event, or with one machine, can find nothing and is not among them: its
    ``p`` and ``adjusted_p`` are None. The test takes events to come one by one, so it is made once more with occasions
    (incidents) for events, ``occasions_adjusted_p``: ``is_named`` where both are below 0.05. ``ratio`` and ``high``
    None: no limit.
    """
    rows = [[_against_others(work, place) for place in range(len(work.machines))] for work in measures]
    tested = [row for own in rows for row in own if row["p"] is not None]
    for p, adjusted in (("p", "adjusted_p"), ("occasions_p", "occasions_adjusted_p")):
        for row, value in zip(tested, benjamini_hochberg([row[p] for row in tested]), strict=True):
            row[adjusted] = float(value)
    for row in tested:
        row["is_named"] = max(row["adjusted_p"], row["occasions_adjusted_p"]) < LEVEL
    return rows


def _against_others(work: Work, place: int) -> Result:
    row: Result = dict.fromkeys(
        ("ratio", "low", "high", "p", "adjusted_p", "occasions_p", "occasions_adjusted_p"), None
    )
    row |= {"is_named": False}
    if len(work.machines) < 2 or not work.counts.sum():
        return row
    ratio, low, high, p = _test(work.counts, work.hours, place)
    own = {"ratio": finite(ratio), "low": low, "high": finite(high), "p": p}
    return row | own | {"occasions_p": _test(work.occasions, work.hours, place)[3]}


def _test(counts: NDArray[np.int64], hours: NDArray[np.float64], place: int) -> tuple[float, float, float, float]:
    count, own_h = int(counts[place]), float(hours[place])
    return rate_ratio(count, own_h, int(counts.sum()) - count, float(hours.sum()) - own_h)


def judge_rates(measures: Sequence[Work], months: dict[str, list[Result]], span_h: float) -> Result:
    """The part ``rates``: every measure with the room's rate, its classes of work and its machines, and who is named.

    ``months``: per measure, rows machine, count and hours, one a machine and month. ``span_h``: what the hours were
    gathered in, so that more of them can be told in months.
    """
    tests = name_machines(measures)
    tests_count = sum(row["p"] is not None for own in tests for row in own)
    level = LEVEL / max(tests_count, 1)
    judged = [
        _measure(work, rows, level=level, span_h=span_h) | {"dispersion": judge_scatter(months.get(work.measure, []))}
        for work, rows in zip(measures, tests, strict=True)
    ]
    named = [
        {"measure": measure["measure"], "machine": row["machine"]}
        for measure in judged
        for row in measure["machines"]
        if row["is_named"]
    ]
    return {
        "level": LEVEL, "power": POWER, "tests_count": tests_count, "test_level": level, "measures": judged,
        "named": named,
    }  # fmt: skip


def _measure(work: Work, tests: Sequence[Result], *, level: float, span_h: float) -> Result:
    evened = even_rates(work)
    detailed = set(evened)
    machines = []
    for place, name in enumerate(work.machines):
        row = _own_rate(work, place) | _as_against(tests[place])
        row |= standardise(work, place) if name in detailed else NO_WORK
        row |= evened.get(name, NOT_EVENED)
        row |= what_shows(work, place, level=level, span_h=span_h) if name in detailed else NOTHING_SHOWN
        machines.append(row)
    count, hours = int(work.counts.sum()), float(work.hours.sum())
    return {
        "measure": work.measure,
        "room": {
            "count": count, "occasions_count": int(work.occasions.sum()), "exposure_h": hours, **_rate(count, hours),
            "machines_count": len(work.machines), "detailed_count": len(detailed),
            "equal_ratio": 1.0 / len(detailed) if detailed else None,
        },
        "classes": class_rates(work),
        "machines": machines,
    }  # fmt: skip


NO_WORK: Result = {"placed_count": None, "expected": None, "standardised": None}
NOT_EVENED: Result = {"evened": None, "worst_ratio": None}
NOTHING_SHOWN: Result = {"detectable_ratio": None, "more_months": None}


def _own_rate(work: Work, place: int) -> Result:
    count, hours = int(work.counts[place]), float(work.hours[place])
    return {
        "machine": work.machines[place], "count": count, "incidents_count": int(work.occasions[place]),
        "exposure_h": hours, **_rate(count, hours),
    }  # fmt: skip


def _as_against(test: Result) -> Result:
    """The test's limits under names of their own: ``low`` and ``high`` of a machine are those of its rate."""
    return {
        "ratio": test["ratio"], "ratio_low": test["low"], "ratio_high": test["high"], "p": test["p"],
        "adjusted_p": test["adjusted_p"], "occasions_adjusted_p": test["occasions_adjusted_p"],
        "is_named": test["is_named"],
    }  # fmt: skip


def _rate(count: int, hours: float) -> Result:
    """Events per 1,000 h with exact 95 % limits; None without hours."""
    if hours <= 0.0:
        return {"value": None, "low": None, "high": None}
    low, high = poisson_limits(count, hours / PER_H)
    return {"value": PER_H * count / hours, "low": low, "high": high}


def standardise(work: Work, place: int) -> Result:
    """Seen over expected of one machine, given what it was given: ``placed_count`` events whose class is known.

    ``expected`` is the sum over classes of its hours times the room's rate in the class (see ``standardised_ratio``).
    """
    found = standardised_ratio(
        work.class_counts[place], work.class_hours[place], work.class_counts.sum(axis=0), work.class_hours.sum(axis=0)
    )
    limits = {"value": finite(found.ratio), "low": found.low, "high": finite(found.high)}
    is_known = found.expected > 0.0
    return {
        "placed_count": found.seen, "expected": found.expected, "standardised": limits if is_known else None,
    }  # fmt: skip


def even_rates(work: Work) -> dict[str, Result]:
    """By machine the rate to expect per 1,000 h with 95 % limits, and the probability that its rate is the highest.

    Gamma–Poisson over all spreads between the machines that the counts allow (``hierarchical_rates``), since a handful
    of machines cannot tell how far machines differ. Of the ``MOST_MACHINES`` with most hours (all, where there are no
    more); both None where the room has no event.
    """
    order = sorted(range(len(work.machines)), key=lambda place: (-work.hours[place], work.machines[place]))
    kept = sorted(order[:MOST_MACHINES])
    if not work.counts[kept].sum():
        return {work.machines[place]: NOT_EVENED for place in kept}
    found = hierarchical_rates(work.counts[kept], work.hours[kept])
    columns = (found.mean, found.low, found.high, hierarchical_worst(work.counts[kept], work.hours[kept]))
    return {
        work.machines[place]: {
            "evened": {"value": PER_H * float(mean), "low": PER_H * float(low), "high": PER_H * float(high)},
            "worst_ratio": float(worst),
        }
        for place, mean, low, high, worst in zip(kept, *columns, strict=True)
    }


def what_shows(work: Work, place: int, *, level: float, span_h: float) -> Result:
    """What the hours of one machine could have shown against the others, at ``level`` and a chance of 0.8.

    ``detectable_ratio``: how many times the others' rate would be found (None: no ratio would). ``more_months``: how
    many more months of hours like these it takes to find twice the others' rate; 0 where these are enough, None where
    the others have no event or it takes more than a hundred years.
    """
    count, hours = int(work.counts[place]), float(work.hours[place])
    others_h = float(work.hours.sum()) - hours
    rate = (int(work.counts.sum()) - count) / others_h if others_h > 0.0 else 0.0
    if rate <= 0.0:
        return NOTHING_SHOWN
    ratio = detectable_ratio(hours, others_h, rate, level=level, power=POWER)
    factor = exposure_factor(TWICE, hours, others_h, rate, level=level, power=POWER)
    more = max(0.0, factor - 1.0) * span_h / MONTH_H
    return {"detectable_ratio": finite(ratio), "more_months": more if more <= MOST_MONTHS else None}


def class_rates(work: Work) -> dict[str, list[Result]]:
    """The room's rate by reel age and by part of the day, each with exact limits; classes without hours left out."""
    counts, hours = work.class_counts.sum(axis=0), work.class_hours.sum(axis=0)
    ages = list(dict.fromkeys(age for age, _ in work.classes))
    return {
        "ages": _summed(ages, [age for age, _ in work.classes], counts, hours),
        "parts": _summed(list(PARTS), [part for _, part in work.classes], counts, hours),
    }


def _summed(names: Sequence[str], own: Sequence[str], counts: Any, hours: Any) -> list[Result]:
    rows = []
    for name in names:
        is_own = np.array([each == name for each in own])
        count, extent = int(counts[is_own].sum()), float(hours[is_own].sum())
        if extent > 0.0:
            rows.append({"class": name, "count": count, "exposure_h": extent, **_rate(count, extent)})
    return rows


def judge_scatter(rows: Sequence[Result]) -> Result:
    """Are monthly counts more scattered about each machine's own rate than luck makes them (``dispersion_test``)?"""
    machines = sorted({row["machine"] for row in rows})
    months = sorted({row["month"] for row in rows})
    counts, hours = (np.zeros((len(machines), len(months))) for _ in range(2))
    place, column = ({name: at for at, name in enumerate(names)} for names in (machines, months))
    for row in rows:
        at = place[row["machine"]], column[row["month"]]
        is_exposed = row["hours"] > 0.0
        counts[at], hours[at] = (row["count"], row["hours"]) if is_exposed else (0.0, 0.0)
    index, p = dispersion_test(counts, hours) if rows else (math.nan, math.nan)
    return {"months_count": len(months), "index": finite(index), "p": finite(p)}
