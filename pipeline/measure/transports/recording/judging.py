"""Is it the player, the recorder, or who recorded? One exact test each, with the others allowed for.

Players are held against each other on the same reels, so that no reel, however bad, and no recorder can blame one.
Recorders are held against each other by dealing their names anew over the reels, after the players' own rates are
allowed for, so that one bad reel cannot blame its recorder.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from pipeline.measure.transports.finite import finite_limits
from pipeline.measure.transports.recording.units import NOT_RECORDED, Reels, labelled, reels_of, strata_of
from pipeline.statistics import (
    Placement,
    RatioOfRatios,
    bernoulli_sum_at_least,
    holm,
    placement_chances,
    ratio_of_ratios,
    stratified_rate_ratio,
)

LEVEL = 0.05
LEAST_H = 1e-9  # hours below it are what a subtraction leaves of nothing
MOST_TESTED = 60  # levels of a factor, by hours of playback; the rest is not tested and says so
Row = dict[str, Any]


@dataclass(frozen=True)
class Tested:
    """One test of the page: of which kind, of whom, and its one-sided p of more faults than the others."""

    kind: str
    name: str
    p: float


def most_played(cells: pl.DataFrame, column: str) -> list[str]:
    """The names of a column with most hours of playback, at most 60, in order of name."""
    hours = cells.group_by(column, maintain_order=True).agg(pl.col("exposure_h").sum()).drop_nulls(column)
    kept = hours.sort([pl.col("exposure_h"), pl.col(column)], descending=[True, False]).head(MOST_TESTED)
    return sorted(str(name) for name in kept[column])


def shared_turns(cells: pl.DataFrame) -> pl.DataFrame:
    """Every cell with a reel, beside what all other machines had on that reel in that role: other_count, other_h."""
    turn = ["reel", "role"]
    return cells.filter(pl.col("reel").is_not_null()).with_columns(
        *(
            (pl.col(name).sum().over(turn) - pl.col(name)).clip(0).alias(other)
            for name, other in (("count", "other_count"), ("exposure_h", "other_h"))
        )
    )


def more_than_others(rows: pl.DataFrame) -> float | None:
    """Exact one-sided p that ``count`` over ``exposure_h`` is no more than ``other_count`` over ``other_h`` in any row.

    Given the faults of a row they fall on either side with its share of the row's hours. None where no row with a fault
    has hours on both sides.
    """
    telling = rows.filter(
        (pl.col("exposure_h") > LEAST_H) & (pl.col("other_h") > LEAST_H) & (pl.col("count") + pl.col("other_count") > 0)
    )
    if not telling.height:
        return None
    shares = (telling["exposure_h"] / (telling["exposure_h"] + telling["other_h"])).to_numpy()
    totals = (telling["count"] + telling["other_count"]).to_numpy()
    return bernoulli_sum_at_least(int(telling["count"].sum()), np.repeat(shares, totals))


def players_on_same_reels(turns: pl.DataFrame) -> dict[str, float | None]:
    """Exact one-sided p of each machine against the others on the same reels in the same role.

    Given a reel's faults in a role (air or protect) they fall on its players with their shares of its hours, whatever
    the reel and however closely each role is watched; so recorders, shifts and bad reels drop out. None for a machine
    that shares no faulty reel with another.
    """
    return {name: more_than_others(_rows(turns, "machine", name)) for name in most_played(turns, "machine")}


def _rows(frame: pl.DataFrame, column: str, name: str) -> pl.DataFrame:
    return frame.filter(pl.col(column) == name).sort("reel", "role")


def player_ratio(turns: pl.DataFrame, machine: str) -> Row:
    """A machine's faults and hours, and its exact ratio to the others on the same reels in the same role, with limits.

    ``shared_count``: reels with a fault that others played too, which alone say anything.
    """
    rows = _rows(turns, "machine", machine)
    shared = rows.filter(pl.col("other_h") > LEAST_H)
    ratio, low, high, _ = stratified_rate_ratio(
        shared["count"], shared["exposure_h"], shared["other_count"], shared["other_h"]
    )
    return {
        "machine": machine,
        "count": int(rows["count"].sum()),
        "exposure_h": float(rows["exposure_h"].sum()),
        "reels_count": rows["reel"].n_unique(),
        "shared_count": shared.filter(pl.col("count") + pl.col("other_count") > 0)["reel"].n_unique(),
        "ratio": finite_limits(ratio, low, high),
    }


def recorders_dealt_anew(reels: Reels) -> dict[str, Placement]:
    """Each recorder: names dealt anew over the reels of the same shift and main role, of like expected counts."""
    strata = strata_of(reels.expected, both(reels.persons, reels.roles))
    return placement_chances(reels.scores, strata, reels.recorders)


def persons_dealt_anew(reels: Reels) -> dict[str, Placement]:
    """Each shift: names dealt anew over the reels of the same recorder and main role, of like expected counts."""
    found = placement_chances(
        reels.scores, strata_of(reels.expected, both(reels.recorders, reels.roles)), reels.persons
    )
    return {name: one for name, one in found.items() if name != NOT_RECORDED}


def both(one: list[str], other: list[str]) -> list[str]:
    """Two names of each unit as one."""
    return [f"{a}, {b}" for a, b in zip(one, other, strict=True)]


def elsewhere_and_own(known: pl.DataFrame, recorder: str) -> RatioOfRatios:
    """A recorder's tapes elsewhere against on itself, over the same of all other tapes: exact ratio, limits, p.

    Within each reel and role. That the recorder plays better or worse than the other machines lifts both, and drops
    out; so does how bad any tape is. The other machines are taken as one.
    """
    is_own, is_mine = pl.col("machine") == recorder, pl.col("recorder") == recorder
    sides = {"a": ~is_own, "b": is_own}
    sums = (
        known.group_by("reel", "role", is_mine.alias("is_mine"), maintain_order=True)
        .agg(
            pl.col(name).filter(side).sum().alias(f"{name}_{letter}")
            for letter, side in sides.items()
            for name in ("count", "exposure_h")
        )
        .sort("reel", "role")
    )
    mine, others = sums.filter(pl.col("is_mine")), sums.filter(~pl.col("is_mine"))
    return ratio_of_ratios(_sides(mine), _sides(others))


def _sides(sums: pl.DataFrame) -> tuple[pl.Series, pl.Series, pl.Series, pl.Series]:
    return sums["count_a"], sums["exposure_h_a"], sums["count_b"], sums["exposure_h_b"]


def own_ratio(known: pl.DataFrame, recorder: str, found: RatioOfRatios) -> Row:
    """Faults and hours of a recorder's tapes on itself and elsewhere, and the ratio found.

    A machine that records slightly off makes tapes that play well on itself and badly elsewhere: a ratio above 1.
    """
    mine = known.filter(pl.col("recorder") == recorder)
    own, other = mine.filter(pl.col("machine") == recorder), mine.filter(pl.col("machine") != recorder)
    return {
        "own_count": int(own["count"].sum()),
        "own_h": float(own["exposure_h"].sum()),
        "other_count": int(other["count"].sum()),
        "other_h": float(other["exposure_h"].sum()),
        "ratio": finite_limits(found.ratio, found.low, found.high),
    }


def run_tests(cells: pl.DataFrame) -> list[Tested]:
    """Every test of the page but that of the spread between reels, of the names with most hours.

    A name is tested where it could have come out otherwise: it shares a faulty reel, its name can be dealt elsewhere.
    """
    players = players_on_same_reels(shared_turns(cells))
    tests = [Tested("player", name, p) for name, p in players.items() if p is not None]
    known = labelled(cells)
    if not known.height:
        return tests
    reels = reels_of(known)
    for kind, column, dealt in (
        ("recorder", "recorder", recorders_dealt_anew(reels)),
        ("recordist", "person", persons_dealt_anew(reels)),
    ):
        names = most_played(known, column)
        tests += [Tested(kind, name, dealt[name].p) for name in names if name in dealt and dealt[name].deviation > 0]
    owns = {name: elsewhere_and_own(known, name) for name in most_played(known, "recorder")}
    return tests + [Tested("own", name, one.p) for name, one in owns.items() if not math.isnan(one.ratio)]


def adjust(tests: list[Tested]) -> dict[tuple[str, str], float]:
    """Adjusted p of every test by kind and name (Holm), over all of them together."""
    adjusted = holm([test.p for test in tests])
    return {(test.kind, test.name): float(p) for test, p in zip(tests, adjusted, strict=True)}


def names_of(tests: list[Tested]) -> set[tuple[str, str]]:
    """Kind and name of those whose adjusted p is below the level."""
    return {key for key, p in adjust(tests).items() if p < LEVEL}
