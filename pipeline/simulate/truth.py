"""Adds up what the scenes state, in whole microseconds: the true answer in the names of figures.json.

Seconds are split where a month ends, counts and times belong to the month in which they began. No log is read here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.simulate.parameters import SECOND

STATES = ("lost", "unknown", "covered", "unproved", "exposed")
WHYS = ("exposed_none_booked", "exposed_not_good", "exposed_out_of_step")
BESIDE = ("rescued", "overrun")
SWITCHES = ("forced", "precaution", "unexplained", "planned", "return")
PROTECT_SWITCHES = ("forced", "precaution", "unexplained")
DEMANDS = ("demands", "demands_met", "demands_healed", "demands_unprotected")
TIMES = ("to_air", "to_take", "to_cover", "to_service")


@dataclass(frozen=True)
class Stated:
    """What is true: spans of air by state, what counts once, times to recover; with a column month each."""

    spans: pl.DataFrame
    counts: pl.DataFrame
    times: pl.DataFrame


def state_by_month(stated: Stated, months: Iterable[tuple[str, int, int]]) -> Stated:
    """The same with a month for each row; spans are cut where one ends."""
    spans, counts, times = [], [], []
    for month, start, end in months:
        named = pl.lit(month).alias("month")
        spans.append(
            stated.spans.filter((pl.col("start") < end) & (pl.col("end") > start)).with_columns(
                named, pl.col("start").clip(lower_bound=start), pl.col("end").clip(upper_bound=end)
            )
        )
        within = (pl.col("at") >= start) & (pl.col("at") < end)
        counts.append(stated.counts.filter(within).with_columns(named))
        times.append(stated.times.filter(within).with_columns(named))
    return Stated(pl.concat(spans), pl.concat(counts), pl.concat(times))


def answer(stated: Stated, names: dict[str, tuple[str, ...]]) -> dict[str, Any]:
    """``total``, ``months``, ``channels`` and ``machines``. ``names`` are those of channels and machines by number."""
    machines = [
        {"machine": name, **_figures(stated, pl.col("machine") == number), **_protecting(stated, number)}
        for number, name in enumerate(names["machines"])
    ]
    months = stated.spans["month"].unique().sort().to_list()
    return {
        "total": _figures(stated, pl.lit(value=True)),
        "months": [{"month": month, **_figures(stated, pl.col("month") == month)} for month in months],
        "channels": [
            {"channel": name, **_figures(stated, pl.col("channel") == number)}
            for number, name in enumerate(names["channels"])
        ],
        "machines": machines,
    }


def _figures(stated: Stated, chosen: pl.Expr) -> dict[str, Any]:
    spans = stated.spans.filter(chosen).group_by("state").agg((pl.col("end") - pl.col("start")).sum().alias("us"))
    us: dict[str, int] = dict(spans.select("state", "us").rows())
    us["exposed"] = sum(us.get(why, 0) for why in WHYS)
    us["air"] = sum(us.get(state, 0) for state in STATES)
    seconds = {f"{name}_s": us.get(name, 0) / SECOND for name in ("air", *STATES, *WHYS, "elsewhere", *BESIDE)}
    found: dict[str, int] = dict(stated.counts.filter(chosen).group_by("what").len().rows())
    counts = {name: found.get(name, 0) for name in ("interruptions", *SWITCHES, *DEMANDS)}
    counts["protect_switches"] = sum(counts[kind] for kind in PROTECT_SWITCHES)
    return {**seconds, **_continuity(us), **counts, **_times(stated.times.filter(chosen))}


def _continuity(us: dict[str, int]) -> dict[str, float | None]:
    air, lost, unknown = us["air"], us.get("lost", 0), us.get("unknown", 0)
    known = air - unknown
    return {
        "continuity": 1 - lost / known if known else None,
        "continuity_low": 1 - (lost + unknown) / air if air else None,
        "continuity_high": 1 - lost / air if air else None,
    }


def _times(times: pl.DataFrame) -> dict[str, list[tuple[float, bool]]]:
    """Each kind of time as a list of seconds and whether the end was seen, shortest first."""
    found: dict[str, list[tuple[float, bool]]] = {name: [] for name in TIMES}
    for name, length, seen in times.sort("length", "seen").select("time", "length", "seen").iter_rows():
        found[name].append((length / SECOND, seen))
    return found


def _protecting(stated: Stated, machine: int) -> dict[str, Any]:
    guarded = stated.spans.filter((pl.col("protect") == machine) & (pl.col("state") == "covered"))
    losses = stated.counts.filter((pl.col("machine") == machine) & (pl.col("what") == "cover_losses"))
    return {"protect_s": (guarded["end"] - guarded["start"]).sum() / SECOND, "cover_losses": losses.height}
