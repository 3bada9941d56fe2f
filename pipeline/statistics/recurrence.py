"""How many repairs a machine has had by a given age, on average, whatever the pattern.

A repaired machine fails again; its faults are not one lifetime but a history, and histories end at different ages. The
mean cumulative function needs no model of wear and lets one machine's run of bad luck show in the error, not in the
estimate.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray, IntArray

_HIGHEST = 1.0 - 2.0**-52  # level whose tail is still told from nothing: 8.2 errors


@dataclass(frozen=True, eq=False)
class CumulativeTable:
    """One row for each distinct age with an event; arrays of one length, ages ascending."""

    age: FloatArray
    at_risk: IntArray  # systems whose history reaches this age
    events: IntArray
    mcf: FloatArray  # mean events per system up to and including this age
    se: FloatArray
    low: FloatArray
    high: FloatArray

    def columns(self) -> dict[str, FloatArray | IntArray]:
        """The columns by name, in order, ready for a data frame."""
        return dict(vars(self))


def mean_cumulative_function(systems: Iterable[tuple[ArrayLike, float]], confidence: float = 0.95) -> CumulativeTable:
    """Mean number of events per system up to each age (Nelson), with robust limits.

    At each age s with d events among n systems at risk the function rises by d/n; a history that ends at s is at risk
    there. The variance follows each system's whole history: sum over systems of (sum over s of (d_i(s) - d(s)/n(s)) /
    n(s))^2, the inner sum over ages s at which system i is at risk (Lawless and Nadeau). It stays right when systems
    differ or their events cluster, where the variance that takes increments as independent does not. Limits are on the
    log scale, mcf exp(+- z se / mcf).

    Assumes that the end of a history says nothing about its next events. Where a single system is left at risk its
    steps add nothing to the variance, so limits at the oldest ages are too narrow. 95 % limits cover some 92 % of the
    time with ten systems and reach their level with two dozen; `confidence_for_few` gives the level to ask for.

    Args:
        systems: one (event ages, end age) for each system, in one unit; ages from 0 to the end, any order, ties
            allowed, also none at all.
        confidence: two-sided level of the limits.

    Returns:
        CumulativeTable; no row when no system has an event. With one system se, low and high are NaN: a single history
        shows no spread between systems.

    Raises:
        ValueError: no system, an age is negative, not finite or after the end of its history, confidence is outside (0,
            1).

    Reference: Nelson (1995), Technometrics 37:147-157; Lawless and Nadeau (1995), Technometrics 37:158-168.
    """
    histories = [_history(*system) for system in systems]
    z = float(special.ndtri(1.0 - arguments.tail(confidence)))
    if not histories:
        raise arguments.refuse("systems", "empty", "one system or more")
    ages = np.unique(np.concatenate([events for events, _ in histories]))
    own = np.array([_counts_at(events, ages) for events, _ in histories])
    under_watch = np.array([ages <= end for _, end in histories])
    at_risk, events = under_watch.sum(axis=0), own.sum(axis=0)
    mcf = np.cumsum(events / at_risk)
    departures = np.cumsum(under_watch * (own - events / at_risk) / at_risk, axis=1)
    se = np.sqrt((departures**2).sum(axis=0)) if len(histories) > 1 else np.full(ages.size, np.nan)
    widen = np.exp(z * se / mcf)
    return CumulativeTable(ages, at_risk.astype(np.int64), events.astype(np.int64), mcf, se, mcf / widen, mcf * widen)


def confidence_for_few(confidence: float, systems: int) -> float:
    """The level at which normal limits with the robust error of so few systems keep `confidence`.

    Such limits are t with n - 1 degrees of freedom times sqrt(n / (n - 1)), as the error of n histories is itself
    uncertain and a little small; the level returned is the one whose normal quantile is as wide.

    Args:
        confidence: two-sided level to keep.
        systems: how many, 2 or more.

    Returns:
        A level above `confidence`, towards it as systems grow; to be given to `mean_cumulative_function`. Of two
        systems it is the highest below 1, whose limits are eight errors wide where eighteen are due.

    Raises:
        ValueError: confidence is outside (0, 1), systems is not a whole number of 2 or more.

    Reference: Cameron and Miller (2015), J. Human Resources 50:317-372, on few clusters (from memory).
    """
    tail, count = arguments.tail(confidence), arguments.count("systems", systems)
    if count < 2:
        raise arguments.refuse("systems", systems, "a whole number, 2 or more")
    widest = float(special.stdtrit(count - 1, 1.0 - tail)) * math.sqrt(count / (count - 1))
    return min(1.0 - 2.0 * float(special.ndtr(-widest)), _HIGHEST)


def _history(event_ages: ArrayLike, end_age: float) -> tuple[FloatArray, float]:
    ages, end = arguments.not_negative("event ages", event_ages), arguments.number("end age", end_age)
    if end < 0.0:
        raise arguments.refuse("end age", end_age, "a number of 0 or more")
    if ages.size and ages.max() > end:
        raise arguments.refuse("event ages", ages.max(), f"at most the end age, {end:g}")
    return ages, end


def _counts_at(events: FloatArray, ages: FloatArray) -> IntArray:
    return np.bincount(np.searchsorted(ages, events), minlength=ages.size).astype(np.int64)
