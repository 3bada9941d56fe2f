"""What could have been found: the chance that the exact test of two rates finds a difference that is there.

"No machine stands out" says nothing until it is said how far out a machine must stand to be seen. These sums give that
exactly, so that a page can name the smallest difference its hours could have shown.
"""

import math

import numpy as np
from scipy import optimize, stats

from pipeline.statistics import arguments

_TAIL = 1e-13  # of the totals, what is left out of the sum on each side
_MOST_RATIO = 1e6


def rate_ratio_power(
    ratio: float, exposure_a: float, exposure_b: float, rate_b: float, *, level: float = 0.05
) -> float:
    """Chance that the exact conditional test of two Poisson rates (`rate_ratio`) gives p of at most `level`.

    With rate_b in group b and ratio times rate_b in group a, the total N is Poisson with mean rate_b (ratio t_a + t_b)
    and, given N = n, count a is binomial with share ratio t_a / (ratio t_a + t_b). The test calls a difference where a
    tail of that count under equal rates, share t_a / (t_a + t_b), is at most level / 2. The power is the sum over n of
    P(N = n) times the probability of those counts, both tails, without approximation. At ratio 1 it is the test's true
    size, which is below level since counts are whole.

    Assumes both counts Poisson and independent, the exposures fixed beforehand.

    Args:
        ratio: rate of a over rate of b, above 0.
        exposure_a: exposure of group a, above 0.
        exposure_b: exposure of group b in the same unit, above 0.
        rate_b: events per unit of exposure in group b, 0 or more.
        level: the level of the two-sided test, between 0 and 1.

    Returns:
        A probability from 0 to 1.

    Raises:
        ValueError: a ratio or exposure is not above 0, rate_b is negative, level is outside (0, 1).

    Reference: Przyborowski and Wilenski (1940), Biometrika 31:313-323, who give the power of this test in this form.
    """
    times, a, b = (
        arguments.positive("ratio", ratio),
        arguments.positive("exposure_a", exposure_a),
        arguments.positive("exposure_b", exposure_b),
    )
    rate, tail = arguments.number("rate_b", rate_b), arguments.tail(1.0 - level)
    if rate < 0.0:
        raise arguments.refuse("rate_b", rate_b, "a number of 0 or more")
    mean = rate * (times * a + b)
    totals = np.arange(stats.poisson.ppf(_TAIL, mean), stats.poisson.isf(_TAIL, mean) + 1.0)
    equal, true = a / (a + b), times * a / (times * a + b)
    # The least count that is too high and the most that is too low; where none is, the sums below are empty.
    high = stats.binom.isf(tail, totals, equal) + 1.0
    low = stats.binom.ppf(tail, totals, equal)
    low = np.where(stats.binom.cdf(low, totals, equal) <= tail, low, low - 1.0)
    found = stats.binom.sf(high - 1.0, totals, true) + stats.binom.cdf(low, totals, true)
    return min(1.0, float((stats.poisson.pmf(totals, mean) * found).sum()))


def detectable_ratio(
    exposure_a: float, exposure_b: float, rate_b: float, *, level: float = 0.05, power: float = 0.8
) -> float:
    """The rate ratio above 1 that the exact conditional test finds with chance `power` at these exposures.

    The root of `rate_ratio_power` = power. Smaller differences are found more seldom, larger ones more often.

    Args:
        exposure_a: exposure of group a, above 0.
        exposure_b: exposure of group b in the same unit, above 0.
        rate_b: events per unit of exposure in group b, 0 or more.
        level: the level of the two-sided test.
        power: the chance wanted, between level and 1.

    Returns:
        A ratio above 1; infinite where not even a million times the rate would be found so often.

    Raises:
        ValueError: as `rate_ratio_power`, or power is not between level and 1.

    Reference: as `rate_ratio_power`.
    """
    wanted = arguments.number("power", power)
    if not level < wanted < 1.0:
        raise arguments.refuse("power", power, f"a share above the level, {level:g}, and below 1")

    def short(log_ratio: float) -> float:
        return rate_ratio_power(math.exp(log_ratio), exposure_a, exposure_b, rate_b, level=level) - wanted

    # Doubled until it is enough, so that the sums stay short where a small ratio does.
    top = math.log(2.0)
    while short(top) < 0.0:
        if top > math.log(_MOST_RATIO):
            return math.inf
        top += math.log(2.0)
    return math.exp(float(optimize.brentq(short, 0.0, top, xtol=1e-9)))


def exposure_factor(
    ratio: float, exposure_a: float, exposure_b: float, rate_b: float, *, level: float = 0.05, power: float = 0.8
) -> float:
    """How many times both exposures are needed for the exact test to find `ratio` with chance `power`.

    Power rises with exposure by small teeth, since counts are whole. The factor is found by halving between one that is
    too small and one that is enough, to one part in a thousand; it stands at a tooth and not before the first of them.

    Args:
        ratio: rate of a over rate of b, above 0 and not 1.
        exposure_a: exposure of group a now, above 0.
        exposure_b: exposure of group b now, above 0.
        rate_b: events per unit of exposure in group b, 0 or more.
        level: the level of the two-sided test.
        power: the chance wanted, between 0 and 1.

    Returns:
        A factor; below 1 where less would do. Infinite where rate_b is 0 or a million times is not enough.

    Raises:
        ValueError: as `rate_ratio_power`.

    Reference: as `rate_ratio_power`.
    """

    def is_enough(log_factor: float) -> bool:
        times = math.exp(log_factor)
        return rate_ratio_power(ratio, times * exposure_a, times * exposure_b, rate_b, level=level) >= power

    low, high = -math.log(_MOST_RATIO), 0.0
    while not is_enough(high):
        if rate_b == 0.0 or high > math.log(_MOST_RATIO):
            return math.inf
        low, high = high, high + math.log(2.0)
    while high - low > 1e-3:
        middle = (low + high) / 2.0
        low, high = (low, middle) if is_enough(middle) else (middle, high)
    return math.exp(high)
