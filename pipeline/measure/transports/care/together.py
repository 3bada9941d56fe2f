"""All kinds of care at once: who cleans also lines up, so what one seems to do may be the other's doing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import polars as pl

from pipeline.statistics import poisson_regression

MACHINES_AT_MOST = 60  # an intercept each; the fit is of their square


def compare_together(cells: pl.DataFrame, items: Sequence[str]) -> dict[str, Any] | None:
    """Ratios of ``items`` from one Poisson regression with an intercept for each machine; None for fewer than two.

    Only cells in which all the items are recorded are used, of the machines with most such hours, at most
    ``MACHINES_AT_MOST``. ``ratios``: item → value, low and high (Wald 95 %, not widened), None where the data do not
    fix it. ``dispersion`` near 1: the events scatter as Poisson counts do; None without freedom. These ratios are a
    check beside the tested ones, and are not tested themselves.
    """
    if len(items) < 2:
        return None
    known = cells.filter(pl.all_horizontal(pl.col(item).is_not_null() for item in items), pl.col("duty_h") > 0)
    if known.is_empty():
        return None
    summed = known.group_by("machine", maintain_order=True).agg(pl.col("duty_h").sum())
    hours = summed.sort(["duty_h", "machine"], descending=[True, False])
    names = hours["machine"].head(MACHINES_AT_MOST).to_list()
    used = known.filter(pl.col("machine").is_in(names)).group_by("machine", *items, maintain_order=True)
    used_cells = used.agg(pl.col("events_count", "duty_h").sum())
    found = poisson_regression(
        used_cells["events_count"].to_numpy(),
        used_cells["duty_h"].to_numpy(),
        {item: used_cells[item].cast(pl.Float64).to_numpy() for item in items},
        strata=used_cells["machine"].to_list(),
    )
    ratios = {
        item: None
        if math.isnan(found.ratios[place])
        else {
            "value": float(found.ratios[place]),
            "low": float(found.low[place]),
            "high": float(found.high[place]),
        }
        for place, item in enumerate(found.names)
    }
    return {
        "ratios": ratios,
        "dispersion": None if math.isnan(found.dispersion) else found.dispersion,
        "free_count": found.free_count,
        "events_count": int(used_cells["events_count"].sum()),
        "duty_h": float(used_cells["duty_h"].sum()),
        "machines_count": len(names),
        "machines_left_out_count": hours.height - len(names),
        "silent_count": len(found.silent),
    }
