"""Whether a machine, or the whole room, gets worse with the hours it feeds: two tests, a power law, a curve.

Every machine is put on its own running age, so that hard work is no excuse and light work no merit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from pipeline.measure.transports.finite import finite
from pipeline.measure.transports.outlook.reading import FloatArray, Watch
from pipeline.statistics import (
    benjamini_hochberg,
    confidence_for_few,
    laplace_test,
    least_growth_found,
    mean_cumulative_function,
    military_handbook_test,
    power_law_process,
)

LEVEL = 0.025  # of the page's 0.05: adjusted p below it names a machine; the other half is the warning's
LEAST_EVENTS = 4  # below it no trend is tested
POOL_AT_MOST = 200  # machines in the room's curve and in the fit of common rates
POINTS_AT_MOST = 120  # of a printed curve
CONFIDENCE = 0.95


def find_trend(events_h: FloatArray, end_h: float) -> dict[str, Any]:
    """Count, both tests and the power law of one machine; those are None below ``LEAST_EVENTS`` events.

    ``beta`` above 1: switches come faster with age. An adjusted p is filled in by ``adjust``.
    """
    return _trend([(events_h, end_h)])


def find_room_trend(watches: Sequence[Watch]) -> dict[str, Any]:
    """The same for all machines pooled, each on its own age: is the whole room getting worse."""
    return _trend([(watch.events_h, watch.end_h) for watch in watches])


def _trend(systems: Sequence[tuple[FloatArray, float]]) -> dict[str, Any]:
    count = sum(events.size for events, _ in systems)
    blank = {"count": count, "laplace": None, "handbook": None, "beta": None, "is_named": False, "direction": None}
    if count < LEAST_EVENTS:
        return blank
    history = list(systems) if len(systems) > 1 else [systems[0]]
    u, p = laplace_test(history)
    statistic, handbook_p = military_handbook_test(history)
    beta = _beta(history)
    return blank | {
        "laplace": {"u": u, "p": p, "adjusted_p": None},
        "handbook": {"statistic": statistic, "p": handbook_p, "adjusted_p": None},
        "beta": beta,
        "direction": "worse" if u > 0 or beta is None else "better",
    }


def _beta(history: list[tuple[FloatArray, float]]) -> dict[str, float] | None:
    """The exponent with its limits; None where every event lies at the end of its watch."""
    if all((events == end).all() for events, end in history):
        return None
    fit = power_law_process(history, confidence=CONFIDENCE)
    return {"value": fit.beta, "low": fit.beta_low, "high": fit.beta_high}


def trend_tests(trend: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """The tests of a trend, none where there are too few events."""
    yield from (trend[name] for name in ("laplace", "handbook") if trend[name] is not None)


def adjust(tests: Iterable[dict[str, Any]]) -> int:
    """Fill the adjusted p (Benjamini and Hochberg) of all ``tests`` together; returns how many they are."""
    tested = list(tests)
    for test, adjusted in zip(tested, benjamini_hochberg([test["p"] for test in tested]), strict=True):
        test["adjusted_p"] = float(adjusted)
    return len(tested)


def stands(trend: Mapping[str, Any], level: float = LEVEL) -> bool:
    """Whether either test of the trend has an adjusted p below ``level``."""
    return any(test["adjusted_p"] < level for test in trend_tests(trend))


def growth_found(count: int, tests_count: int) -> float | None:
    """How many times its average rate a machine with ``count`` events must have reached to be named, 4 times of 5.

    By the exact law of the military-handbook test at the strictest level that the adjustment asks, ``LEVEL`` over the
    number of tests; None below ``LEAST_EVENTS`` events.
    """
    return least_growth_found(count, LEVEL / max(tests_count, 1)) if count >= LEAST_EVENTS else None


def room_curve(watches: Sequence[Watch]) -> dict[str, Any]:
    """The room's mean cumulative function with limits, all machines as systems; at most ``POOL_AT_MOST`` of them.

    Of more machines those with most hours are taken. ``points``: age_h, switches by that age (mean per machine), limits
    (None with one machine), machines still watched; thinned evenly to ``POINTS_AT_MOST``, the last kept.
    """
    pool = sorted(watches, key=lambda watch: (-watch.end_h, watch.machine))[:POOL_AT_MOST]
    level = confidence_for_few(CONFIDENCE, len(pool)) if len(pool) > 1 else CONFIDENCE
    table = mean_cumulative_function([(watch.events_h, watch.end_h) for watch in pool], level) if pool else None
    if table is None or not table.age.size:
        return {"machines_count": len(pool), "points": []}
    kept = np.unique(np.linspace(0, table.age.size - 1, min(table.age.size, POINTS_AT_MOST)).round().astype(int))
    rows = zip(*(column[kept].tolist() for column in table.columns().values()), strict=True)
    names = ("age_h", "watched_count", "count", "value", "se", "low", "high")
    points = [{name: finite(value) for name, value in zip(names, row, strict=True)} for row in rows]
    return {"machines_count": len(pool), "points": points}
