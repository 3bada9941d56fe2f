"""Less care against more: rate ratios raw, inside machines, and with all kinds of care at once.

A ratio is always the rate with less care over the rate with more, so above 1 speaks for the care. Only the ratio inside
machines is tested: a machine that is both bad and seldom cleaned must not speak for cleaning.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.measure.transports.care.together import compare_together
from pipeline.measure.transports.finite import finite, finite_limits
from pipeline.statistics import (
    benjamini_hochberg,
    detectable_ratio,
    exposure_factor,
    poisson_limits,
    rate_ratio,
    stratified_rate_ratio,
)

ITEMS = ("clean", "lineup", "warm_up", "head")
LEVEL = 0.05  # adjusted probabilities below it are named
POWER = 0.8  # "could have shown" is meant with this chance
TWICE = 2.0
RATE_H = 1000.0
LESS, MORE, NOT_RECORDED = 1, 0, -1


@dataclass(frozen=True)
class Groups:
    """One item: events, hours and uses of every machine (same order), by how much care."""

    events: dict[int, NDArray[np.int64]]
    duty_h: dict[int, NDArray[np.float64]]
    uses: dict[int, int]

    @property
    def has_both(self) -> NDArray[np.bool_]:
        """Machines with hours of both kinds: the only ones that tell care from the machine itself."""
        return (self.duty_h[LESS] > 0) & (self.duty_h[MORE] > 0)


def compare_care(cells: pl.DataFrame) -> dict[str, Any]:
    """Every item with its two groups, ratios and what these hours could have shown; and the joint regression.

    ``cells``: machine, one column an item (true: less care, false: more, null: not recorded), uses_count, events_count,
    duty_h; one row a machine and mix of care. ``items`` in the order of ``ITEMS``: see ``compare_items``, and
    ``could_show_ratio`` (the least ratio above 1 found with a chance of 0.8 at 0.05 over the number of tests; None:
    none) and ``twice_needs`` (how many times these hours it would take to find twice the rate so). ``together``: see
    ``compare_together``.
    """
    groups = {item: group_item(cells, item) for item in ITEMS}
    items = compare_items(groups)
    tests = sum(row["p"] is not None for row in items)
    items = [row | find_power(groups[row["item"]], tests) for row in items]
    return {
        "level": LEVEL, "power": POWER, "tests_count": tests, "items": items,
        "named": [row["item"] for row in items if row["is_named"]],
        "together": compare_together(cells, [row["item"] for row in items if row["p"] is not None]),
    }  # fmt: skip


def group_item(cells: pl.DataFrame, item: str) -> Groups:
    """Add up the cells by machine and care."""
    names, places = np.unique(cells["machine"].to_numpy(), return_inverse=True)
    level = cells[item].cast(pl.Int8).fill_null(NOT_RECORDED).to_numpy()
    events, hours = cells["events_count"].to_numpy(), cells["duty_h"].to_numpy()
    uses = cells["uses_count"].to_numpy()
    kinds = (LESS, MORE, NOT_RECORDED)
    return Groups(
        {one: np.bincount(places, events * (level == one), len(names)).round().astype(np.int64) for one in kinds},
        {one: np.bincount(places, hours * (level == one), len(names)).astype(np.float64) for one in kinds},
        {one: int(uses[level == one].sum()) for one in kinds},
    )


def compare_items(groups: dict[str, Groups]) -> list[dict[str, Any]]:
    """Raw and adjusted ratio of each item, with p adjusted over all of them by Benjamini and Hochberg.

    ``raw``: exact conditional, all machines thrown together. ``adjusted``: exact conditional inside machines
    (``stratified_rate_ratio``); p is its own. Both None where there are no hours of both kinds, or no event in them; a
    value or high of None in them is infinite.
    """
    rows = [_compare(item, group) for item, group in groups.items()]
    tested = [row for row in rows if row["p"] is not None]
    for row, p in zip(tested, benjamini_hochberg([row["p"] for row in tested]), strict=True):
        row |= {"adjusted_p": float(p), "is_named": bool(p < LEVEL)}
    return rows


def _compare(item: str, group: Groups) -> dict[str, Any]:
    both = group.has_both
    ratio, low, high, p = stratified_rate_ratio(
        group.events[LESS][both], group.duty_h[LESS][both], group.events[MORE][both], group.duty_h[MORE][both]
    )
    is_told = not math.isnan(ratio)
    return {
        "item": item,
        "less": _group(group, LESS),
        "more": _group(group, MORE),
        "not_recorded": _group(group, NOT_RECORDED),
        "machines_count": int(((group.duty_h[LESS] + group.duty_h[MORE]) > 0).sum()),
        "both_count": int(both.sum()),
        "raw": _raw(group),
        "adjusted": finite_limits(ratio, low, high) if is_told else None,
        "p": p if is_told else None,
        "adjusted_p": None,
        "is_named": False,
    }


def _group(group: Groups, kind: int) -> dict[str, Any]:
    count, hours = int(group.events[kind].sum()), float(group.duty_h[kind].sum())
    rate: dict[str, float | None] = {"value": None, "low": None, "high": None}
    if hours > 0:
        low, high = poisson_limits(count, hours / RATE_H)
        rate = {"value": RATE_H * count / hours, "low": low, "high": high}
    return {"uses_count": group.uses[kind], "events_count": count, "duty_h": hours, "per_1000_h": rate}


def _raw(group: Groups) -> dict[str, float | None] | None:
    counts = [int(group.events[kind].sum()) for kind in (LESS, MORE)]
    hours = [float(group.duty_h[kind].sum()) for kind in (LESS, MORE)]
    if not sum(counts) or min(hours) <= 0:
        return None
    ratio, low, high, _ = rate_ratio(counts[0], hours[0], counts[1], hours[1])
    return finite_limits(ratio, low, high)


def find_power(group: Groups, tests: int) -> dict[str, float | None]:
    """What the machines with both kinds could show, at the rate that they had together; None where nothing."""
    both = group.has_both
    hours = _telling_hours(group)
    events = sum(int(group.events[kind][both].sum()) for kind in (LESS, MORE))
    if not events or not tests:
        return {"could_show_ratio": None, "twice_needs": None}
    rate, level = events / sum(hours), LEVEL / tests
    found = {
        "could_show_ratio": detectable_ratio(hours[0], hours[1], rate, level=level, power=POWER),
        "twice_needs": exposure_factor(TWICE, hours[0], hours[1], rate, level=level, power=POWER),
    }
    return {name: finite(number) for name, number in found.items()}


def _telling_hours(group: Groups) -> tuple[float, float]:
    """The hours of the machines with both kinds, parted as one machine would have to part them to tell as much.

    Given its events n, a machine with the share q of its hours with less care tells n q (1 - q) of the logarithm of the
    ratio (Fisher's information at ratio 1); q is here the share at which all events together tell the sum of these.
    A machine with much of one kind and hardly any of the other adds hours and tells next to nothing.
    """
    both = group.has_both
    less, more = group.duty_h[LESS][both], group.duty_h[MORE][both]
    if not both.any():
        return 0.0, 0.0
    whole = less + more
    events = (group.events[LESS] + group.events[MORE])[both]
    weights = events / events.sum() if events.any() else whole / whole.sum()
    told = float((weights * less * more / whole**2).sum())
    smaller = (1.0 - math.sqrt(max(0.0, 1.0 - 4.0 * told))) / 2.0
    share = smaller if less.sum() <= more.sum() else 1.0 - smaller
    return share * float(whole.sum()), (1.0 - share) * float(whole.sum())
