"""The year ahead: which machine gets worse, what to expect of each, and what would warn of it early.

A machine is named only where luck is an unlikely reason on the whole page: half of the 0.05 goes to the tests of trends
and signs, adjusted for their number, half to the running sums of all machines together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.measure.transports.outlook.forecast import (
    LEAST_SPAN_H,
    MONTHS,
    carry_on,
    forecast_machines,
    forecast_room,
    hours_a_year,
    replay,
)
from pipeline.measure.transports.outlook.reading import Material, Watch, read_material
from pipeline.measure.transports.outlook.trend import (
    LEVEL,
    POOL_AT_MOST,
    adjust,
    find_room_trend,
    find_trend,
    growth_found,
    room_curve,
    stands,
    trend_tests,
)
from pipeline.measure.transports.outlook.warning import ALARM_CHANCE, judge_signs, watch_rates
from pipeline.settings import Settings
from pipeline.store import Store

SIGNS = ("lock", "offset")


def measure_outlook(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:  # noqa: ARG001
    """The part ``outlook`` of the transports' figures; writes no table.

    Reads ``core_air_spans``, ``core_switches``, ``core_recoveries``, ``core_starts`` and ``clean_machines``.
    """
    return judge_outlook(read_material(store, settings))


def judge_outlook(material: Material) -> dict[str, Any]:
    """All of the outlook from what was read, or simulated.

    ``machines``: one entry a machine that fed air, in the order of ``watches``; forecasts are None where ``refused``
    says why. ``named``: machines whose trend or sign has an adjusted p below ``level``, or whose running sum alarmed.
    """
    watches = material.watches
    trends, room_trend = [find_trend(watch.events_h, watch.end_h) for watch in watches], find_room_trend(watches)
    signs = judge_signs(material)
    tests_count = _adjust_all(trends, room_trend, signs)
    design, warnings = watch_rates(watches, material.weeks)
    refused = material.span_h < LEAST_SPAN_H
    changing = [_mark(trend) for trend in trends]
    ahead = [None] * len(watches) if refused else forecast_machines(watches, changing, material.losses_s)
    rows = [
        _machine(watch, trend, forecast, {**warning, **_signs_of(signs, watch.machine)})
        for watch, trend, forecast, warning in zip(watches, trends, ahead, warnings, strict=True)
    ]
    _mark(room_trend)
    return {
        "months": MONTHS,
        "span_h": material.span_h,
        "refused": _why(material) if refused else None,
        "level": LEVEL,
        "alarm_chance": ALARM_CHANCE,
        "tests_count": tests_count,
        "named": [row["machine"] for row in rows if row["is_named"]],
        "room": _room(material, room_trend, tests_count, is_refused=refused),
        "machines": rows,
        "replay": None if refused else replay(watches),
        "warning": design,
        "evened_at_most": POOL_AT_MOST,
        "without_lock": list(material.without_lock),
        "losses": _losses(material),
    }


def _adjust_all(
    trends: Sequence[Mapping[str, Any]], room: Mapping[str, Any], signs: Mapping[str, Mapping[str, Any]]
) -> int:
    """Adjust every p of the page together."""
    of_trends = [test for trend in (*trends, room) for test in trend_tests(trend)]
    of_signs = [sign["test"] for found in signs.values() for sign in found.values() if sign["test"] is not None]
    return adjust([*of_trends, *of_signs])


def _mark(trend: dict[str, Any]) -> bool:
    trend["is_named"] = stands(trend)
    return bool(trend["is_named"])


def _signs_of(signs: Mapping[str, Mapping[str, Any]], machine: str) -> dict[str, Any]:
    return {name: signs.get(machine, {}).get(name) for name in SIGNS}


def _machine(
    watch: Watch, trend: dict[str, Any], forecast: Mapping[str, Any] | None, warning: dict[str, Any]
) -> dict[str, Any]:
    nothing = {"mean": None, "low": None, "high": None}
    creeping = [name for name in SIGNS if _creeps(warning[name])]
    return {
        "machine": watch.machine,
        "count": int(watch.events_h.size),
        "air_h": watch.end_h,
        "air_h_per_year": hours_a_year(watch) if forecast else None,
        "is_retired": watch.is_retired,
        "basis": forecast["basis"] if forecast else None,
        "switches": forecast["switches"] if forecast else nothing,
        "lost_s": forecast["lost_s"] if forecast else nothing,
        "carried_on": carry_on(watch) if forecast else None,
        "ages_h": watch.events_h.tolist(),
        "trend": trend,
        "warning": warning,
        "creeping": creeping,
        "is_named": bool(trend["is_named"] or warning["is_alarm"] or creeping),
    }


def _creeps(sign: Mapping[str, Any] | None) -> bool:
    return sign is not None and sign["test"] is not None and sign["test"]["adjusted_p"] < LEVEL


def _why(material: Material) -> str:
    if not material.watches:
        return "no machine has fed air"
    return f"the record spans {material.span_h / 24:.0f} days, and a year is not told from less than six weeks"


def _room(material: Material, trend: dict[str, Any], tests_count: int, *, is_refused: bool) -> dict[str, Any]:
    watches = material.watches
    counts = sorted(watch.events_h.size for watch in watches)
    typical = counts[len(counts) // 2] if counts else 0
    nothing = {"air_h_per_year": None, "switches": None, "lost_s": None, "basis": None}
    forecast = None if is_refused else forecast_room(watches, material.losses_s)
    return {
        "count": trend["count"],
        "air_h": sum(watch.end_h for watch in watches),
        "trend": trend,
        "typical_count": typical,
        "growth_found": {
            "machine": growth_found(typical, tests_count),
            "room": growth_found(trend["count"], tests_count),
        },
        "curve": room_curve(watches),
        **(forecast or nothing),
    }


def _losses(material: Material) -> dict[str, Any]:
    """Lost seconds with a protect switch: how many switches, how many lost nothing, mean and largest."""
    losses = material.losses_s
    return {
        "count": int(losses.size),
        "zero_count": int((losses == 0).sum()),
        "mean_s": float(losses.mean()) if losses.size else None,
        "largest_s": float(losses.max()) if losses.size else None,
    }
