"""How long each kind of part lasts: the lives of one kind in, its figures out; no store, so that any lives may come in.

Parts are replaced units: each life ends once, and its hours are counted from its own fitting. Transports are repaired
items, whose failures have rates; those stand elsewhere and are never mixed with these (IEC 61703).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import polars as pl

from pipeline.costs import Costs, PartCost
from pipeline.measure.transports.finite import finite
from pipeline.measure.transports.parts.reading import FAILED, RUNNING, TAKEN_OUT
from pipeline.measure.transports.parts.remaining import judge_running
from pipeline.statistics import (
    WeibullRegion,
    benjamini_hochberg,
    early_failures,
    kaplan_meier,
    log_rank,
    replacement_age,
    weibull_region,
)
from pipeline.statistics.arguments import BoolArray, FloatArray

LEVEL = 0.05
MOST_KINDS = 40
LEAST_LIVES = 2  # a kind fitted once is listed only
LEAST_FAILURES = 3
EARLY_H, EARLY_DAYS = 24.0, 1.0
MOST_MACHINES = 60  # held apart in one log-rank test
LEAST_EXPECTED = 1.0  # failures expected of a machine that is held apart
POWER_STEPS = 2.8  # standard errors from which a two-sided test at 0.05 finds four effects of five: 1.96 + 0.84
EDGE_STEP = 8  # of the edge of a fit's region, every eighth point is enough for the limits of an age


def judge_parts(lives: pl.DataFrame, costs: Costs | None = None) -> dict[str, Any]:
    """Every kind's figures, with the tests of all kinds adjusted together (Benjamini and Hochberg).

    ``lives`` has machine, kind, detail, how ("failed", "taken out", "running"), life_h, in_place_days, is_unclear and
    was_fitted_before. Tests are the shape of each kind's life against 1, and its machines against each other.
    ``verdict`` of a kind is "wears out", "fails early" or "not told", by the adjusted p of its shape. Only the
    ``MOST_KINDS`` with most lives are judged; ``kinds_count`` counts all.
    """
    counted = lives.group_by("kind", maintain_order=True).len().sort(["len", "kind"], descending=[True, False])
    names = counted["kind"].head(MOST_KINDS).to_list()
    kinds = [_judge_kind(name, lives.filter(pl.col("kind") == name), costs) for name in names]
    tests = [test for kind in kinds for test in (kind["weibull"], kind["machines"]) if test is not None]
    if tests:
        for test, adjusted in zip(tests, benjamini_hochberg([test["p"] for test in tests]), strict=True):
            test["adjusted_p"] = float(adjusted)
    for kind in kinds:
        kind["verdict"] = _verdict(kind["weibull"])
    return {"unit": "h", "level": LEVEL, "tests_count": len(tests), "kinds_count": counted.height, "kinds": kinds}


def _verdict(weibull: Mapping[str, Any] | None) -> str:
    if weibull is None or weibull["adjusted_p"] >= LEVEL:
        return "not told"
    return "wears out" if weibull["shape"]["value"] > 1.0 else "fails early"


def _judge_kind(kind: str, lives: pl.DataFrame, costs: Costs | None) -> dict[str, Any]:
    how = lives["how"].to_numpy()
    hours, days = lives["life_h"].to_numpy(), lives["in_place_days"].to_numpy()
    failed, ended = how == FAILED, how != RUNNING
    region, why = _fitted(hours, failed)
    return {
        "kind": kind,
        "unit": "h",
        **_counts(lives),
        "failure_h": _curve(hours, failed),
        "removal_h": _curve(hours, ended),
        "failure_days": _curve(days, failed),
        "removal_days": _curve(days, ended),
        "early_h": _early(hours, failed, EARLY_H),
        "early_days": _early(days, failed, EARLY_DAYS),
        "steps": _steps(hours, failed),
        "weibull": None if region is None else _weibull(region),
        "weibull_why": why,
        "machines": _machines(lives, failed),
        "money": _money(region, _cost_of(costs, kind), costs),
        "running": judge_running(region, lives),
    }


def _counts(lives: pl.DataFrame) -> dict[str, Any]:
    counted = dict(lives.group_by("how", maintain_order=True).len().rows())
    return {
        "n": lives.height,
        "failed_count": counted.get(FAILED, 0),
        "taken_out_count": counted.get(TAKEN_OUT, 0),
        "running_count": counted.get(RUNNING, 0),
        "unclear_count": int(lives["is_unclear"].sum()),
        "fitted_again_count": int(lives["was_fitted_before"].sum()),
        "machines_count": lives["machine"].n_unique(),  # each had one before its first fitting, of unknown start
        "life_h": round(float(lives["life_h"].sum()), 6),
    }


def _fitted(hours: FloatArray, failed: BoolArray) -> tuple[WeibullRegion | None, str | None]:
    """The Weibull life of a kind, or why there is none; lives of no head hours at all tell nothing and are left out."""
    told = hours > 0.0
    failures = int((failed & told).sum())
    if hours.size < LEAST_LIVES:
        return None, "fitted once only"
    if failures < LEAST_FAILURES:
        return None, f"{failures} of the {LEAST_FAILURES} failures that are needed"
    try:
        return weibull_region(hours[told], failed[told]), None
    except ValueError:
        return None, "all failures are at the longest life"


def _curve(times: FloatArray, ended: BoolArray) -> dict[str, Any]:
    """Kaplan-Meier median with log-log limits; n counts all, ``open`` those cut short."""
    curve = kaplan_meier(times, ended)
    return {
        "median": curve.median, "low": curve.low, "high": curve.high, "n": curve.n, "open": curve.open,
        "longest": float(times.max()),
    }  # fmt: skip


def _steps(hours: FloatArray, failed: BoolArray) -> list[dict[str, float]]:
    """The Kaplan-Meier curve for a chart, thinned to some hundred steps."""
    table = kaplan_meier(hours, failed).table
    places = np.unique(np.linspace(0, table.time.size - 1, min(200, table.time.size)).astype(int))
    return [{"life_h": float(table.time[place]), "survival": float(table.survival[place])} for place in places]


def _early(times: FloatArray, failed: BoolArray, within: float) -> dict[str, Any]:
    early = early_failures(times, failed, within)
    return {
        "within": within, "count": early.count, "trials_count": early.trials, "cut_count": early.cut,
        "value": early.count / early.trials if early.trials else None, "low": early.low, "high": early.high,
    }  # fmt: skip


def _weibull(region: WeibullRegion) -> dict[str, Any]:
    """Shape, scale and B10 with likelihood limits, the test of shape 1, and the shape these failures could tell."""
    fit = region.fit
    step = (math.log(fit.shape_high) - math.log(fit.shape_low)) / (2.0 * 1.96)
    return {
        "shape": {"value": fit.shape, "low": fit.shape_low, "high": fit.shape_high},
        "scale_h": {"value": fit.scale, "low": fit.scale_low, "high": finite(fit.scale_high)},
        "b10_h": {"value": fit.b10, "low": fit.b10_low, "high": finite(fit.b10_high)},
        "failures_count": fit.failures,
        "p": region.p_chance,
        "told_from": math.exp(POWER_STEPS * step),
    }


def _machines(lives: pl.DataFrame, failed: BoolArray) -> dict[str, Any] | None:
    """The log-rank test between machines; those expected to have less than one failure stand together as one group."""
    if not failed.any() or lives["machine"].n_unique() < 2:
        return None
    hours, names = lives["life_h"].to_numpy(), lives["machine"].to_list()
    hazard = kaplan_meier(hours, failed).table
    growth = np.append(0.0, np.cumsum(hazard.events / hazard.at_risk))
    expected = growth[np.searchsorted(hazard.time, hours, side="right")]
    lived = pl.DataFrame({"machine": names, "expected": expected})
    sums = lived.group_by("machine", maintain_order=True).agg(pl.col("expected").sum())
    apart = sums.filter(pl.col("expected") >= LEAST_EXPECTED).sort(["expected", "machine"], descending=[True, False])
    kept = set(apart["machine"].head(MOST_MACHINES))
    if not kept:
        return None
    test = log_rank(hours, failed, [f"m {name}" if name in kept else "others" for name in names])
    if not test.degrees:
        return None
    return {"p": test.p, "chi_square": test.chi_square, "degrees": test.degrees, "apart_count": len(kept)}


def _cost_of(costs: Costs | None, kind: str) -> PartCost | None:
    """The site's prices for the kind, whatever letters and blanks it is written with."""
    stated = costs.parts if costs is not None else ()
    return next((part for part in stated if " ".join(part.kind.lower().split()) == kind), None)


def _money(region: WeibullRegion | None, price: PartCost | None, costs: Costs | None) -> dict[str, Any] | None:
    """The age at which a planned change costs least, with limits over all lives that the data allow (None: no limit).

    None without prices above 0 or without a fit.
    """
    if region is None or price is None or costs is None or min(price.planned, price.failure) <= 0.0:
        return None

    def at(shape: float, scale: float) -> tuple[float, float]:
        return replacement_age(shape, scale, price.planned, price.failure)

    age, cost = at(region.fit.shape, region.fit.scale)
    mean = region.fit.scale * math.gamma(1.0 + 1.0 / region.fit.shape)
    edge = zip(region.shapes[::EDGE_STEP].tolist(), region.scales[::EDGE_STEP].tolist(), strict=True)
    ages = [at(shape, scale)[0] for shape, scale in edge]
    return {
        "currency": costs.currency, "planned": price.planned, "failure": price.failure,
        "age_h": {"value": finite(age), "low": finite(min(ages)), "high": finite(max(ages))},
        "cost_per_1000_h": 1000.0 * cost, "run_to_failure_per_1000_h": 1000.0 * price.failure / mean,
    }  # fmt: skip
