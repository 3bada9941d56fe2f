"""Whether parts last alike on every machine, when most of them have not failed.

Counting failures by machine would blame the machine whose parts were watched longest. The log-rank test asks at each
failure who else was at risk just then.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class LogRank:
    """Failures seen and expected in each group, in the order of `groups`, and the test of all groups being alike."""

    groups: tuple[str, ...]
    failures: IntArray
    expected: FloatArray
    chi_square: float
    degrees: int
    p: float


def log_rank(durations: ArrayLike, observed: ArrayLike, groups: Sequence[str]) -> LogRank:
    """The log-rank test of two or more groups of right-censored durations.

    At each time with d failures among n at risk, group g with n_g at risk is expected to have d n_g / n of them. With
    z the sums of failures less expected, and V their hypergeometric covariance, the sum over times of
    d (n - d) / (n - 1) (n_g / n) ((g = h) - n_h / n), chi_square is z' V^-1 z, one group left out as the z add up to 0.

    Assumes that being cut short has the same reasons in every group. p is of the chi-square, which holds where each
    group is expected to have some failures; with less than about one it is rough.

    Args:
        durations: 0 or more, shape (n,).
        observed: shape (n,), true where the end was seen.
        groups: the group of each duration, length n.

    Returns:
        LogRank. Without two groups at risk at some failure, degrees is 0 and p is 1.

    Raises:
        ValueError: a duration is negative or not finite, observed is not true or false, lengths differ.

    Reference: Mantel (1966), Cancer Chemotherapy Reports 50:163-170; Peto and Peto (1972), JRSS A 135:185-207.
    """
    times, seen = arguments.lifetimes(durations, observed)
    if len(groups) != times.size:
        raise ValueError(f"durations has {times.size} values and groups has {len(groups)}; they must pair up.")
    names, places = np.unique(np.asarray(groups, dtype=str), return_inverse=True)
    moments, events = np.unique(times[seen], return_counts=True)
    at_risk = np.array([_at_risk(times[places == group], moments) for group in range(names.size)], dtype=np.float64)
    at_risk = at_risk.reshape(names.size, moments.size)
    total = at_risk.sum(axis=0)
    share = at_risk / total
    weight = events * (total - events) / np.maximum(total - 1.0, 1.0)
    expected = share @ events.astype(np.float64)
    failures = np.bincount(places[seen], minlength=names.size)
    covariance = np.diag(share @ weight) - (share * weight) @ share.T
    chi_square, degrees = _quadratic(failures - expected, covariance)
    p = float(special.chdtrc(degrees, chi_square)) if degrees else 1.0
    return LogRank(tuple(names.tolist()), failures.astype(np.int64), expected, chi_square, degrees, p)


def _at_risk(times: FloatArray, moments: FloatArray) -> IntArray:
    return np.asarray(times.size - np.searchsorted(np.sort(times), moments, side="left"), dtype=np.int64)


def _quadratic(apart: FloatArray, covariance: FloatArray) -> tuple[float, int]:
    """z' V^-1 z over the groups that vary, all but one; a group never at risk with another tells nothing."""
    varies = np.flatnonzero(np.diag(covariance) > 1e-12)[:-1]
    if not varies.size:
        return 0.0, 0
    solved = np.linalg.lstsq(covariance[np.ix_(varies, varies)], apart[varies], rcond=None)
    return max(0.0, float(apart[varies] @ solved[0])), int(solved[2])
