"""How far a machine's clock is from the house clock, and how well that is known.

Start commands are stamped by the house clock and the rolls they cause by the machine's. Some pairs are grossly wrong (a
second command, an operator at the panel), the rest jitter with the mechanism, and many logs stamp whole seconds only. A
correction built on such pairs must shrug off the wrong ones and must never claim to be closer than it is: an overstated
clock turns "order not known" into a false order of events.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special
from scipy.stats import theilslopes

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray

_STEPS_S = (60.0, 1.0, 0.1, 0.04, 0.01, 0.001)  # what logs stamp to; 0.04 is a frame at 25 a second
_FLOAT_S = 2e-6  # seconds since 1970 in a float are good to a quarter of a microsecond
_MOST_PAIRS = 1000  # the slope looks at every two pairs; more than this are thinned evenly

# Spread is read from the middle of the residuals, so that a tenth of gross outliers leaves it alone.
_SIGMA_PER_MAD = 1.4826  # normal residuals
_HALF_RANGE_PER_SIGMA = 1.6  # half the range of a uniform delay is 1.35 sigma; the rest is for sigma's own error
_MEDIAN_VARIANCE = 1.6  # times sigma^2 / n: pi / 2 for normal residuals, about the same for uniform ones
_SLOPE_VARIANCE = 1.2  # times sigma^2 / Sxx: least squares is 1, Theil-Sen 1.05 for normal residuals
_OUTLIER_SIGMAS = 5.0
_SIGMAS_PER_STEP = 6.0  # stamps cut to a step scatter by 0.37 of it; a few pairs may show half of that
_SHIFT_PER_IMBALANCE = 1.35  # sigmas by which a median moves per unit of one-sided outlier share


@dataclass(frozen=True)
class ClockFit:
    """A clock against the house clock, at the last pair. Seconds, except the drift."""

    offset_s: float  # machine minus house at the last pair, on the fitted line
    drift_ppm: float  # microseconds gained per house second; negative when the machine runs slow
    within_s: float  # 95 % half-width of offset_s; infinite with only two pairs
    fit_within_s: float  # the part of it from scatter about the line: what more pairs make smaller
    delay_spread_s: float  # the part from the roll delay: what more pairs do not
    step_s: float  # the part from the stamps: half a step of each of the two clocks
    pairs: int


def theil_sen_clock(house_s: ArrayLike, machine_s: ArrayLike) -> ClockFit:
    """Robust straight line through machine minus house time, read off at the last pair.

    The drift is the median of the slopes between every two pairs (Theil-Sen; of at most 1,000 pairs, evenly thinned),
    the offset the median of what the drift leaves, moved to the last pair ("joint" rule, median of y - slope x: the
    median of y alone would be dragged along the drift by one-sided outliers). Up to 29 % of the pairs may be grossly
    wrong.

    A constant mechanical roll delay cannot be told from an offset: a machine that always rolls 0.3 s after its command
    looks exactly like a clock 0.3 s ahead. A known delay must be subtracted first. What can be seen is how much the
    delay varies, and a delay that varies is not zero on average, so half the range of its scatter is part of the
    half-width. It then covers the offset itself and not only offset plus typical delay, as long as the delay comes down
    to about zero now and then:

        within_s = fit_within_s + sqrt(delay_spread_s^2 + step_s^2)

    fit_within_s is Student's t (n - 2) times sigma sqrt(1.6 / n + 1.2 (x_last - mean x)^2 / Sxx), widened by the shift
    that an excess of outliers on one side can give; sigma = 1.4826 (1 + 2 / (n - 2)) times the median absolute
    residual, the two smallest (through which the line passes) left out. delay_spread_s is 1.6 sigma, half the range of
    a uniform delay with this scatter and a little more. step_s is half the step of each clock's stamps, added (whole
    seconds on both: 1.0): it holds whether stamps are rounded or cut off. The constants were
    chosen by simulation and cover at least 95 % for 8 to 300 pairs with a tenth of gross outliers. Assumes one line: no
    reset of the clock between first and last pair.

    Args:
        house_s: house time of each pair, seconds from any origin, shape (n,), n >= 2, any order.
        machine_s: machine time of the same pair, seconds from the same origin, shape (n,).

    Returns:
        ClockFit. With two pairs the line fits exactly and nothing is known of its error: within_s is infinite.

    Raises:
        ValueError: fewer than two pairs, different lengths, a time that is not finite, or all house times the same.

    Reference: Sen (1968), JASA 63:1379-1389; small-sample factor in the manner of Rousseeuw and Leroy (1987), Robust
    Regression and Outlier Detection, 5.1.
    """
    house, machine = arguments.vector("house_s", house_s), arguments.vector("machine_s", machine_s)
    arguments.same_length("house_s", house, "machine_s", machine)
    if house.size < 2:
        raise arguments.refuse("the number of pairs", house.size, "2 or more")
    if np.ptp(house) == 0.0:
        raise arguments.refuse("house_s", house[0], "at least two different times, or there is no drift to see")
    since_last, ahead = house - house.max(), machine - house
    slope = _slope(since_last, ahead)
    offset = float(np.median(ahead - slope * since_last))
    sigma = _sigma(ahead - offset - slope * since_last)
    fit = _fit_within(since_last, ahead - offset - slope * since_last, sigma)
    spread, step = _HALF_RANGE_PER_SIGMA * sigma, _half_steps(house, machine, sigma)
    within = fit + math.hypot(spread, step)
    return ClockFit(offset, slope * 1e6, within, fit, spread, step, int(house.size))


def _slope(x: FloatArray, y: FloatArray) -> float:
    order = np.argsort(x, kind="stable")
    if x.size > _MOST_PAIRS:
        order = order[np.linspace(0, x.size - 1, _MOST_PAIRS).round().astype(np.int64)]
    # Of the same call, the slope's own limits are not used; on tied whole seconds they would warn of a root of -0.
    with np.errstate(invalid="ignore"):
        return float(theilslopes(y[order], x[order]).slope)


def _sigma(residuals: FloatArray) -> float:
    """Spread of the residuals as a standard deviation, blind to gross outliers; infinite with two pairs."""
    if residuals.size < 3:
        return math.inf
    free = np.sort(np.abs(residuals))[2:]
    return float(_SIGMA_PER_MAD * (1.0 + 2.0 / (residuals.size - 2)) * np.median(free))


def _fit_within(since_last: FloatArray, residuals: FloatArray, sigma: float) -> float:
    n = since_last.size
    if n < 3 or sigma == 0.0:
        return math.inf if n < 3 else 0.0
    reach = since_last.mean() ** 2 / ((since_last - since_last.mean()) ** 2).sum()
    scatter = special.stdtrit(n - 2, 0.975) * sigma * math.sqrt(_MEDIAN_VARIANCE / n + _SLOPE_VARIANCE * reach)
    outlying = np.sign(residuals[np.abs(residuals) > _OUTLIER_SIGMAS * sigma])
    share = min(abs(float(outlying.sum())) / n, 0.5)
    return float(scatter + _SHIFT_PER_IMBALANCE * sigma * share / (1.0 - share))


def _half_steps(house: FloatArray, machine: FloatArray, sigma: float) -> float:
    """Half a step of each clock's stamps, added.

    Round house times alone prove nothing: programmes start on the minute. A step counts where both clocks' stamps and
    their difference fit it, or where the residuals scatter as widely as stamps of one clock cut to that step would make
    them.
    """
    stamps = (house - house[0], machine - machine[0])
    shared = next((s for s in _STEPS_S if all(_fits(values, s) for values in (*stamps, machine - house))), 0.0)
    wide = [s for s in _STEPS_S if s <= _SIGMAS_PER_STEP * sigma]
    own = (next((s for s in wide if _fits(values, s)), 0.0) for values in stamps)
    return sum(max(shared, step) for step in own) / 2.0


def _fits(seconds: FloatArray, step: float) -> bool:
    return bool(np.abs(seconds - step * np.round(seconds / step)).max() < _FLOAT_S)
