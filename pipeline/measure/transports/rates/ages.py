"""Classes of reel age, cut by the hours of the room and not by its events, so that no event chooses its own class."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import polars as pl

QUARTERS = (0.25, 0.5, 0.75)
NOT_KNOWN = "not known"


def age_cuts(days: pl.DataFrame) -> list[int]:
    """The ages in whole days from which the second, third and fourth class begin; fewer where ages are alike."""
    ages = (
        days.filter(pl.col("age_days").is_not_null())
        .group_by("age_days", maintain_order=True)
        .agg(pl.col("exposure_us").sum())
        .sort("age_days")
    )
    if ages.is_empty():
        return []
    reached = np.cumsum(ages["exposure_us"].to_numpy()) / ages["exposure_us"].sum()
    found = {int(ages["age_days"][int(np.searchsorted(reached, share - 1e-12))]) + 1 for share in QUARTERS}
    return sorted(cut for cut in found if cut <= int(ages["age_days"].max()))  # type: ignore[arg-type]


def age_class(age_days: int | None, cuts: Sequence[int]) -> str:
    """The name of the class of an age: "under 34 days", "34 to 80 days", both in it, "90 days and over"."""
    if age_days is None:
        return NOT_KNOWN
    place = int(np.searchsorted(np.asarray(cuts), age_days, side="right"))
    return age_names(cuts)[place]


def age_names(cuts: Sequence[int]) -> list[str]:
    """The names of the classes of known age, young to old."""
    if not cuts:
        return ["any age"]
    between = [f"{low} to {high - 1} days" if high - 1 > low else f"{low} days" for low, high in pairwise(cuts)]
    return [f"under {cuts[0]} days", *between, f"{cuts[-1]} days and over"]
