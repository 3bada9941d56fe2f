"""Has something changed, or is it chance? Charts for counts, and a brake on looking at many machines.

Month by month and machine by machine, some figure always looks bad. These say which do so by more than chance: a chart
for single jumps, a running sum for slow drifts, an adjustment for many comparisons at once.
"""

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import false_discovery_control, poisson

from pipeline.statistics import arguments
from pipeline.statistics.arguments import BoolArray, FloatArray

_TAIL = 0.00135  # what a normal chart leaves outside three standard deviations on each side


def u_chart(counts: ArrayLike, exposures: ArrayLike) -> tuple[float, FloatArray, FloatArray]:
    """Control limits of event rates, period by period, from exact Poisson probabilities.

    centre = sum of counts / sum of exposures. With m = centre * exposure, a period's low is the largest count L with
    P(X < L) <= 0.00135 and its high the smallest count H with P(X > H) <= 0.00135, X Poisson(m), both divided by
    exposure. A rate below low or above high signals; one on a limit does not. Three-sigma limits would go below 0 and
    signal too often above where m is small.

    Assumes Poisson counts with one rate while nothing changes; the periods judged also set the centre.

    Args:
        counts: events of each period, whole numbers, shape (n,).
        exposures: exposure of each period, shape (n,); 0 only where the count is 0, some above 0.

    Returns:
        (centre, low, high): events per unit of exposure; low and high of shape (n,), NaN for a period without exposure.

    Raises:
        ValueError: a count or exposure is negative, not finite or not whole, they do not pair up, all exposure is 0, a
            count stands where exposure is 0.

    Reference: Montgomery, Introduction to Statistical Quality Control (charts for nonconformities, probability limits).
    """
    events, exposure = arguments.counts_and_exposures(counts, exposures)
    centre = float(events.sum() / exposure.sum())
    extent = np.where(exposure > 0.0, exposure, np.nan)
    low, high = (np.asarray(poisson.ppf(share, centre * exposure) / extent) for share in (_TAIL, 1.0 - _TAIL))
    return centre, low, high


def poisson_cusum(
    counts: ArrayLike, exposures: ArrayLike, in_control: float, out_of_control: float, h: float
) -> tuple[FloatArray, BoolArray]:
    """Upper Poisson CUSUM: a running sum that finds a small lasting rise sooner than a chart of single periods.

    path_i = max(0, path_(i-1) + count_i - k exposure_i) from 0, with the reference rate
    k = (out_of_control - in_control) / ln(out_of_control / in_control) that tells the two rates apart best. An alarm
    stands wherever path >= h (not only above), and the path goes on without a reset.

    Args:
        counts: events of each period in order of time, whole numbers, shape (n,).
        exposures: exposure of each period, shape (n,); 0 only where the count is 0, some above 0.
        in_control: the acceptable rate, above 0.
        out_of_control: the rate to be found, above in_control.
        h: decision height in events, above 0.

    Returns:
        (path, alarms), both of shape (n,): events, and true where path >= h.

    Raises:
        ValueError: a count or exposure as in `u_chart`, a rate or h is not above 0, out_of_control is not above
            in_control.

    Reference: Lucas (1985), Technometrics 27:129-144.
    """
    events, exposure = arguments.counts_and_exposures(counts, exposures)
    good, bad = arguments.positive("in_control", in_control), arguments.positive("out_of_control", out_of_control)
    height = arguments.positive("h", h)
    if bad <= good:
        raise arguments.refuse("out_of_control", out_of_control, f"a rate above in_control, {good:g}")
    steps = np.cumsum(events - (bad - good) / math.log(bad / good) * exposure)
    # max(0, ...) at every step is the distance of the plain sum above its lowest point so far, the start included.
    path = steps - np.minimum(np.minimum.accumulate(steps), 0.0)
    return path, path >= height - 1e-9


def benjamini_hochberg(p_values: ArrayLike) -> FloatArray:
    """P-values adjusted for looking at many: calling those at or below q keeps the expected share of false calls to q.

    adjusted_(i) = min over j >= i of p_(j) n / j over the n sorted p-values, at most 1. Holds for independent and for
    positively dependent tests.

    Args:
        p_values: shape (n,), from 0 to 1; n may be 0.

    Returns:
        Adjusted p-values, shape (n,), in the order given.

    Raises:
        ValueError: a value is not between 0 and 1.

    Reference: Benjamini and Hochberg (1995), JRSS B 57:289-300.
    """
    values = arguments.probabilities("p_values", p_values)
    return np.asarray(false_discovery_control(values, method="bh")) if values.size else values
