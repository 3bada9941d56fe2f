"""Cells of playback as arrays, and reels as the units that recorders are judged by.

A reel carries its recorder and its shift wherever it is played, so it is the unit to be dealt out anew; what it would
have brought on the machines that played it is worked out first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.statistics.arguments import FloatArray

STRATUM_SIZE = 40  # reels in a stratum, about: enough to deal among, few enough to be alike in use
NOT_RECORDED = "not recorded"


@dataclass(frozen=True, eq=False)
class Reels:
    """One entry a reel whose recorder is known, in order of reel id.

    ``expected``: its faults, if every machine brought its own rate, of the role it played in, on every reel. ``roles``:
    air or protect, whichever it was played in for more hours. ``scores``: faults less expected,
    divided by 1 + spread × expected, so that reels with many hours count no more than they tell. ``spread``: squared
    coefficient of variation of the reels' own rates, from the excess of their counts over Poisson, 0 or more.
    """

    reels: list[str]
    recorders: list[str]
    persons: list[str]
    roles: list[str]
    counts: FloatArray
    expected: FloatArray
    exposure_h: FloatArray
    scores: FloatArray
    spread: float


def labelled(cells: pl.DataFrame) -> pl.DataFrame:
    """The cells whose reel and recorder are known, a missing person as "not recorded", and what is expected of each.

    ``expected``: the machine's faults an hour in that role, all its labelled reels together, times the cell's hours.
    """
    known = cells.filter(pl.col("reel").is_not_null() & pl.col("recorder").is_not_null())
    seat = ["machine", "role"]
    rate = pl.col("count").sum().over(seat) / pl.col("exposure_h").sum().over(seat)
    return known.with_columns(
        pl.col("recorded_by").fill_null(NOT_RECORDED).alias("person"), (rate * pl.col("exposure_h")).alias("expected")
    )


def reels_of(known: pl.DataFrame) -> Reels:
    """Sum labelled cells to reels.

    The spread is the moment estimate Σ ((count − expected)² − count) / Σ expected², not below 0.
    """
    air_h = pl.col("exposure_h").filter(pl.col("role") == "air").sum()
    summed = (
        known.group_by("reel", "recorder", "person", maintain_order=True)
        .agg(pl.col("count", "expected", "exposure_h").sum(), air_h.alias("air_h"))
        .sort("reel")
    )
    counts, expected = (summed[name].cast(pl.Float64).to_numpy() for name in ("count", "expected"))
    spread = spread_of(counts, expected)
    return Reels(
        summed["reel"].to_list(), summed["recorder"].to_list(), summed["person"].to_list(),
        ["air" if is_air else "protect" for is_air in summed["air_h"] * 2 >= summed["exposure_h"]], counts, expected,
        summed["exposure_h"].to_numpy(), (counts - expected) / (1.0 + spread * expected), spread,
    )  # fmt: skip


def spread_of(counts: FloatArray, expected: FloatArray) -> float:
    """Squared coefficient of variation of true rates around the expected ones, by moments; 0 where there is none."""
    square = float((expected**2).sum())
    return max(0.0, float(((counts - expected) ** 2 - counts).sum()) / square) if square else 0.0


def strata_of(expected: FloatArray, groups: Sequence[str]) -> list[str]:
    """A stratum for every unit: units of one group, cut by their expected count into parts of about 40, alike in use.

    Within a group units are put in order of what is expected of them and cut into n / 40 parts (rounded down, one at
    least) of nearly equal size. Equal ones stay in the order given.
    """
    members: dict[str, list[int]] = {}
    for row, group in enumerate(groups):
        members.setdefault(group, []).append(row)
    strata = [""] * len(groups)
    for group, rows in members.items():
        parts = max(1, len(rows) // STRATUM_SIZE)
        order = [rows[place] for place in np.argsort(expected[rows], kind="stable").tolist()]
        for place, row in enumerate(order):
            strata[row] = f"{place * parts // len(rows)} of {group}"
    return strata
