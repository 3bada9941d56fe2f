"""Does a machine get better or worse with use? Two tests of a constant rate of failures.

Averages hide a machine that wears out behind one that has been cured. Both tests look at where on its running hours a
machine's failures lie: evenly spread under a constant rate, late when it gets worse, early when it gets better.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray

History: TypeAlias = "ArrayLike | Sequence[tuple[ArrayLike, float | None]]"


@dataclass(frozen=True, eq=False)
class System:
    """Failures of one system on its own running time, from 0."""

    times: FloatArray  # all failures, ascending
    end: float  # end of watching: a set time, or the last failure
    by_failure: bool  # watching ended with the last failure

    @property
    def inside(self) -> FloatArray:
        """The failures whose place is free: the one that ended the watch is not."""
        return self.times[:-1] if self.by_failure else self.times


def read_systems(times: History, end: float | None) -> list[System]:
    """One system from its failure times and end, or several from a list of (times, end).

    An end of None means watched to the last failure.

    Raises:
        ValueError: a time is negative, not finite or after the end, an end is not above 0, end is given beside several
            systems, a system watched to its last failure has none, or no failure is inside any watch.
    """
    several = isinstance(times, Sequence) and len(times) > 0 and isinstance(times[0], (tuple, list))
    if several and end is not None:
        raise arguments.refuse("end", end, "None beside several systems: each brings its own as (times, end)")
    pairs = list(times) if several else [(times, end)]  # type: ignore[arg-type]
    systems = [_system(*pair) for pair in pairs]  # type: ignore[misc]
    if sum(system.inside.size for system in systems) == 0:
        raise arguments.refuse("the number of failures", 0, "1 or more inside the watch, beside one that ended it")
    return systems


def laplace_test(times: History, end: float | None = None) -> tuple[float, float]:
    """Laplace's test of a constant failure rate.

    u = (sum t_i - sum n_k T_k / 2) / sqrt(sum n_k T_k^2 / 12) over the failures inside the watch: all of them when it
    ended at a set time, all but the last when it ended with that. Several systems are pooled. u is about standard
    normal when the rate of each system is constant (good from about four failures); positive: failures crowd late, the
    system gets worse.

    Args:
        times: running times of failure from 0, any order, ties allowed; or a list of (times, end), one for each system.
        end: end of watching in the same unit; None when it ended with the last failure.

    Returns:
        (u, p), p two-sided.

    Raises:
        ValueError: see `read_systems`.

    Reference: Cox and Lewis (1966), Statistical Analysis of Series of Events, 3.3; Ascher and Feingold (1984),
    Repairable Systems Reliability.
    """
    systems = read_systems(times, end)
    centred = sum(float(s.inside.sum()) - s.inside.size * s.end / 2.0 for s in systems)
    variance = sum(s.inside.size * s.end**2 / 12.0 for s in systems)
    u = centred / math.sqrt(variance)
    return u, 2.0 * float(special.ndtr(-abs(u)))


def military_handbook_test(times: History, end: float | None = None) -> tuple[float, float]:
    """The MIL-HDBK-189 test of a constant failure rate against a power law.

    statistic = 2 sum ln(T / t_i) over the failures inside the watch, as in `laplace_test`; chi-square with 2 degrees of
    freedom for each of them when the rate is constant (exact for any number). Small: failures crowd late, the system
    gets worse; large: it gets better. Several systems are pooled.

    Args:
        times: running times of failure, above 0, any order, ties allowed; or a list of (times, end), one for each
            system.
        end: end of watching in the same unit; None when it ended with the last failure.

    Returns:
        (statistic, p), p two-sided: twice the smaller tail, at most 1.

    Raises:
        ValueError: a time is 0; else see `read_systems`.

    Reference: MIL-HDBK-189 (1981); NIST/SEMATECH e-Handbook of Statistical Methods 8.2.3.4.
    """
    systems = read_systems(times, end)
    statistic = 2.0 * log_distances(systems)
    freedom = 2 * sum(s.inside.size for s in systems)
    smaller = min(float(special.chdtr(freedom, statistic)), float(special.chdtrc(freedom, statistic)))
    return statistic, min(1.0, 2.0 * smaller)


def log_distances(systems: list[System]) -> float:
    """Sum of ln(T / t) over the failures inside each watch; ValueError when a failure lies at 0."""
    if any((s.times == 0.0).any() for s in systems):
        raise arguments.refuse("times", 0.0, "numbers above 0: the power law has no failure at time 0")
    return float(sum(np.log(s.end / s.inside).sum() for s in systems))


def _system(times: ArrayLike, end: float | None) -> System:
    failures = np.sort(arguments.not_negative("times", times))
    if end is None:
        if failures.size == 0:
            raise arguments.refuse("times", "empty", "at least one failure where end is None")
        return System(failures, arguments.positive("the last of times", failures[-1]), by_failure=True)
    stop = arguments.positive("end", end)
    if failures.size and failures[-1] > stop:
        raise arguments.refuse("times", failures[-1], f"at most the end, {stop:g}")
    return System(failures, stop, by_failure=False)
