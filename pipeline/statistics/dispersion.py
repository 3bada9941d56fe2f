"""Are counts more scattered than luck makes them? Where they are, limits that take events one by one are too narrow."""

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments


def dispersion_test(counts: ArrayLike, exposures: ArrayLike) -> tuple[float, float]:
    """Index of dispersion of counts over periods, each unit by its own rate, and the chance of one so high.

    Of a unit with n events in k periods, e_j = n t_j / sum of t. D sums (count_j - e_j)^2 / e_j over periods and units.
    Given its n, a unit's counts are multinomial with shares s_j = t_j / sum of t, so its part of D has mean k - 1 and
    variance 2 (k - 1) + (sum of 1/s_j - k^2 - 2 k + 2) / n, both exact also where few events are expected. The index is
    D over its mean: 1 by luck, above 1 where events come in clusters or the rate changes. p is the upper tail of the
    gamma law with D's mean and variance, which is close for small counts too; the chi-square law would not be.

    Args:
        counts: events, whole numbers, shape (units, periods).
        exposures: exposure of each, the same shape; 0 only where the count is 0. Such periods of a unit are left out.

    Returns:
        (index, p). Both NaN where no unit has an event in a time of at least two periods.

    Raises:
        ValueError: shapes differ or are not two-dimensional, a count or exposure is negative, not finite or not whole,
            a count stands where exposure is 0.

    Reference: Fisher (1925), Statistical Methods for Research Workers, section 16; Haldane (1937), Biometrika
    29:133-143, for mean and variance.
    """
    events, extents = np.asarray(counts, dtype=np.float64), np.asarray(exposures, dtype=np.float64)
    if events.ndim != 2 or events.shape != extents.shape:
        raise ValueError(f"counts are of shape {events.shape} and exposures of {extents.shape}; both need two, alike.")
    found = mean = variance = 0.0
    for unit in zip(events, extents, strict=True):
        own, extent = _present(*unit)
        total, periods = own.sum(), own.size
        if total == 0.0 or periods < 2:
            continue
        shares = extent / extent.sum()
        found += float(((own - total * shares) ** 2 / (total * shares)).sum())
        mean += periods - 1.0
        spread = float((1.0 / shares).sum()) - periods**2 - 2.0 * periods + 2.0
        variance += 2.0 * (periods - 1.0) + spread / total
    if mean == 0.0:
        return math.nan, math.nan
    if variance <= 0.0:  # one event in periods alike: D can take one value only
        return found / mean, 1.0
    return found / mean, float(special.gammaincc(mean**2 / variance, found * mean / variance))


def _present(counts: arguments.FloatArray, exposures: arguments.FloatArray) -> tuple[arguments.FloatArray, ...]:
    """The checked periods of a unit that have exposure."""
    if not exposures.any():
        arguments.not_negative("counts", counts)
        if counts.any():
            raise arguments.refuse("exposures", 0.0, "a number above 0 wherever the count is above 0")
        return counts[:0], exposures[:0]
    own, extent = arguments.counts_and_exposures(counts, exposures)
    return own[extent > 0.0], extent[extent > 0.0]
