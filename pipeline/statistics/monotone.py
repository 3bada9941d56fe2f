"""Does a reading creep? A slope and a test that a single wild reading cannot upset.

Lock times and offsets have long tails: one bad start is longer than a month of slow creep. Slopes between all pairs of
readings, and their median, say what most readings do.
"""

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy import stats

from pipeline.statistics import arguments


@dataclass(frozen=True)
class Drift:
    """Slope in units of the values by unit of time; p is two-sided, for no monotone change."""

    slope: float
    low: float
    high: float
    tau: float  # Kendall's tau-b, from -1 (always falling) to 1 (always rising)
    p: float


def monotone_drift(times: ArrayLike, values: ArrayLike, confidence: float = 0.95) -> Drift | None:
    """Theil-Sen slope with limits, and the Mann-Kendall test that values neither rise nor fall with time.

    slope is the median of (y_j - y_i) / (t_j - t_i) over pairs at different times; the limits are the slopes at ranks
    set by the normal law of Kendall's S, ties allowed for (Sen). p is Kendall's, exact without ties up to 33 values,
    else normal with the ties allowed for. With values in order of time this is the Mann-Kendall test.

    Assumes independent readings: creep that comes and goes over weeks makes p too small.

    Args:
        times: when each reading was taken, any unit, shape (n,).
        values: the readings, shape (n,), n >= 3.
        confidence: two-sided level of the limits.

    Returns:
        Drift, or None where all times or all values are the same, so that nothing can rise or fall.

    Raises:
        ValueError: fewer than 3 readings, one is not finite, they do not pair up, confidence is outside (0, 1).

    Reference: Theil (1950), Indag. Math. 12:85-91; Sen (1968), JASA 63:1379-1389; Mann (1945), Econometrica 13:245-259.
    """
    at, readings = arguments.vector("times", times), arguments.vector("values", values)
    arguments.same_length("times", at, "values", readings)
    arguments.tail(confidence)
    if at.size < 3:
        raise arguments.refuse("the number of readings", at.size, "3 or more")
    if (at == at[0]).all() or (readings == readings[0]).all():
        return None
    line = stats.theilslopes(readings, at, alpha=confidence)
    test = stats.kendalltau(at, readings)
    if math.isnan(test.pvalue):
        return None
    return Drift(*(float(x) for x in (line.slope, line.low_slope, line.high_slope, test.statistic, test.pvalue)))
