"""How large each effect is with all others allowed for, what cannot be told apart, and what would have been found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from scipy import special

from pipeline.measure.transports.finite import finite_limits
from pipeline.measure.transports.recording.judging import LEVEL, both, most_played
from pipeline.measure.transports.recording.units import Reels, reels_of, strata_of
from pipeline.statistics import CrossedFit, Inseparable, crossed_poisson, find_inseparable, rate_ratio
from pipeline.statistics.arguments import BoolArray, FloatArray

MOST_REELS = 2_000  # in the model, by hours of playback
TIMES_WORSE = 3.0
DRAWS, LEAST_DRAWS, MOST_DRAWN, SEED = 400, 50, 2_000_000, 20_310
OTHERS = "all others"
FACTORS = {"player": "machine", "recorder": "recorder", "reel": "reel", "person": "person", "role": "role"}
Row = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Effects:
    """The model of all cells, and its improvement over one without reels; ``reels_left_out`` had the fewest hours."""

    fit: CrossedFit
    reel_spread_p: float | None
    reels_left_out: int

    def ratios(self, factor: str) -> dict[str, dict[str, float | None]]:
        """Each level's ratio to the other levels, with limits; nothing for a factor that has one level only."""
        if factor not in self.fit.factors:
            return {}
        found = self.fit.factors[factor]
        rows = zip(found.levels, found.ratio, found.low, found.high, strict=True)
        return {level: finite_limits(*(float(value) for value in values)) for level, *values in rows}


def fit_effects(known: pl.DataFrame) -> Effects | None:
    """Player, recorder, reel within its recorder, shift and role as crossed effects; None without a fault.

    Factors with one level only are left out. Levels beyond the 60 with most hours are one, "all others", and reels
    beyond the 2,000 with most hours are left out, so that no site is too large.
    """
    kept, left_out = _bounded(known)
    if not kept.height or not kept["count"].sum():
        return None
    labels = {name: kept[column].to_list() for name, column in FACTORS.items()}
    labels = {name: values for name, values in labels.items() if len(set(values)) > 1}
    if not labels:
        return None
    counts, hours = kept["count"].to_numpy(), kept["exposure_h"].to_numpy()
    fit = crossed_poisson(counts, hours, labels, off_zero=True)
    return Effects(fit, _spread_p(counts, hours, labels, fit), left_out)


def _bounded(known: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    summed = known.group_by("reel", maintain_order=True).agg(pl.col("exposure_h").sum())
    hours = summed.sort(["exposure_h", "reel"], descending=[True, False])
    kept = known.filter(pl.col("reel").is_in(hours["reel"].head(MOST_REELS).to_list())).sort("machine", "reel", "role")
    named = {column: most_played(kept, column) for column in ("machine", "recorder", "person")}
    pooled = [
        pl.when(pl.col(column).is_in(names)).then(pl.col(column)).otherwise(pl.lit(OTHERS)).alias(column)
        for column, names in named.items()
    ]
    return kept.with_columns(pooled), max(0, hours.height - MOST_REELS)


def _spread_p(counts: FloatArray, hours: FloatArray, labels: dict[str, list[str]], fit: CrossedFit) -> float | None:
    """Likelihood ratio of a variance between reels, the others as fitted: half the chi-square tail, as it may be 0.

    Reference: Self and Liang (1987), JASA 82:605-610.
    """
    without = {name: values for name, values in labels.items() if name != "reel"}
    if "reel" not in labels or not without:
        return None
    others = {name: fit.factors[name].variance for name in without}
    flat = crossed_poisson(counts, hours, without, variances=others).log_marginal
    gain = crossed_poisson(counts, hours, labels, variances=others).log_marginal - flat
    return float(special.erfc(math.sqrt(gain)) / 2.0) if gain > 1e-6 else 1.0


def inseparable_groups(known: pl.DataFrame) -> list[Row]:
    """Players and recorders that the bookings do not tell apart, with what they have together against the rest.

    A group cut off is held against all others by the exact ratio of rates; whose it is cannot be told.
    """
    kept, _ = _bounded(known)
    summed = kept.group_by("machine", "recorder", maintain_order=True).agg(pl.col("exposure_h", "count").sum())
    pairs = summed.sort("machine", "recorder")
    found = find_inseparable(pairs["exposure_h"], pairs["machine"].to_list(), pairs["recorder"].to_list())
    return [_group(one, kept) for one in found]


def _group(one: Inseparable, known: pl.DataFrame) -> Row:
    inside = pl.col("machine").is_in(one.first) & pl.col("recorder").is_in(one.second)
    mine, rest = known.filter(inside), known.filter(~inside)
    counts = [int(side["count"].sum()) for side in (mine, rest)]
    hours = [float(side["exposure_h"].sum()) for side in (mine, rest)]
    ratio = rate_ratio(counts[0], hours[0], counts[1], hours[1])[:3] if min(hours) > 0 else (math.nan,) * 3
    return {
        "players": list(one.first), "recorders": list(one.second), "correlation": one.correlation,
        "is_cut_off": one.is_cut_off, "count": counts[0], "exposure_h": hours[0], "ratio": finite_limits(*ratio),
    }  # fmt: skip


def chance_to_find_recorders(known: pl.DataFrame, tests: int) -> dict[str, float]:
    """For each recorder with most hours: the chance that it would be named, were its tapes three times as bad.

    Seeded draws of these cells (400, fewer of very many cells) with what is expected of the recorder's tapes tripled,
    all scaled to the faults seen, and the reels' own spread as estimated (gamma). The players' rates are worked out
    anew from every draw, as they take up part of a bad recorder that plays most of its own tapes. Named is where the
    sum of scores passes the normal limit of dealing anew at level 0.05 / tests. Bounded as the model is.
    """
    kept, _ = _bounded(known)
    if not kept["count"].sum() or not tests:
        return {}
    rooms = _DrawnRooms(kept.sort("reel", "machine", "role"))
    limit = float(-special.ndtri(LEVEL / tests))
    return {name: rooms.chance(name, limit) for name in most_played(known, "recorder")}


class _DrawnRooms:
    """The cells of a room as arrays, in order of reel, from which like rooms are drawn."""

    def __init__(self, cells: pl.DataFrame) -> None:
        """Lay them out."""
        self.reels = reels = reels_of(cells)
        self.hours, self.expected = cells["exposure_h"].to_numpy(), cells["expected"].to_numpy()
        self.starts = np.flatnonzero(cells["reel"].to_numpy() != cells["reel"].shift(1, fill_value="").to_numpy())
        self.of_reel = np.repeat(np.arange(self.starts.size), np.diff([*self.starts, cells.height]))
        names = (cells["machine"] + "\n" + cells["role"]).to_numpy().astype(str)
        self.seats = np.unique(names, return_inverse=True)[1]
        self.is_seat = np.equal.outer(self.seats, np.arange(self.seats.max() + 1)).astype(float)
        self.strata = np.array(strata_of(reels.expected, both(reels.persons, reels.roles)))
        self.draws = int(min(DRAWS, max(LEAST_DRAWS, MOST_DRAWN // cells.height)))

    def chance(self, name: str, limit: float) -> float:
        """Share of draws in which (sum − mean of deals) / deviation of deals passes the limit."""
        mine = np.array([recorder == name for recorder in self.reels.recorders])
        scores = self._scores(mine)
        over, variance = np.zeros(self.draws), np.zeros(self.draws)
        for stratum in sorted(set(self.strata[mine])):
            there = self.strata == stratum
            size, drawn = int(there.sum()), int((there & mine).sum())
            if drawn < size:
                part = scores[:, there]
                over += scores[:, there & mine].sum(axis=1) - drawn * part.mean(axis=1)
                variance += drawn * (size - drawn) / size * part.var(axis=1, ddof=1)
        return float((over > limit * np.sqrt(np.maximum(variance, 1e-12))).mean())

    def _scores(self, mine: BoolArray) -> FloatArray:
        """Scores of every reel in every drawn room, shape (draws, reels)."""
        random, spread = np.random.default_rng(SEED), self.reels.spread
        means = self.expected * np.where(mine, TIMES_WORSE, 1.0)[self.of_reel]
        means *= self.expected.sum() / means.sum()
        rates = np.ones((self.draws, mine.size))
        if spread > 1e-6:
            rates = random.gamma(1.0 / spread, spread, rates.shape)
        counts = random.poisson(rates[:, self.of_reel] * means)
        seat_rates = (counts @ self.is_seat) / (self.hours @ self.is_seat)
        expected = np.add.reduceat(seat_rates[:, self.seats] * self.hours, self.starts, axis=1)
        return np.asarray((np.add.reduceat(counts, self.starts, axis=1) - expected) / (1.0 + spread * expected))


def chance_to_find_players(turns: pl.DataFrame, players: list[str], tests: int) -> dict[str, float]:
    """For each player: the chance that it would be named, did it fail three times as often on the same reels.

    Given each reel's faults in a role, the player's are binomial with share s = own hours over all, or 3 s / (1 + 2 s);
    both sums by the normal curve, named at level 0.05 / tests. ``turns``: see ``shared_turns``.
    """
    limit = float(-special.ndtri(LEVEL / tests)) if tests else math.inf
    found = {}
    for player in players:
        rows = turns.filter((pl.col("machine") == player) & (pl.col("count") + pl.col("other_count") > 0))
        total = (rows["count"] + rows["other_count"]).to_numpy()
        share = (rows["exposure_h"] / (rows["exposure_h"] + rows["other_h"])).to_numpy()
        worse = TIMES_WORSE * share / (1.0 + (TIMES_WORSE - 1.0) * share)
        least = (total * share).sum() + limit * math.sqrt((total * share * (1.0 - share)).sum())
        deviation = math.sqrt((total * worse * (1.0 - worse)).sum())
        found[player] = float(special.ndtr(((total * worse).sum() - least) / deviation)) if deviation > 1e-9 else 0.0
    return found


def reels_to_look_at(reels: Reels, effects: Effects | None, most: int) -> list[Row]:
    """The reels with most faults beyond those expected, with the ratio to the other reels; at most ``most``."""
    ratios = effects.ratios("reel") if effects else {}
    order = sorted(range(len(reels.reels)), key=lambda row: (-reels.scores[row], reels.reels[row]))
    return [
        {
            "reel": reels.reels[row], "recorder": reels.recorders[row], "person": reels.persons[row],
            "count": int(reels.counts[row]), "exposure_h": float(reels.exposure_h[row]),
            "expected": float(reels.expected[row]), "ratio": ratios.get(reels.reels[row]),
        }
        for row in order[:most]
        if reels.counts[row] > reels.expected[row]
    ]  # fmt: skip
