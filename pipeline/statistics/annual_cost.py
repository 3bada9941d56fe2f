"""What a choice costs a year: prices paid once spread over the years they serve, and the value that turns an answer.

A machine bought for ten years and an overhaul that holds for four cannot be compared by their prices. Spread over its
own life at the rate that money costs, each becomes an amount a year, and these can be added to what is paid every year.
"""

import math
from collections.abc import Callable, Iterator

import numpy as np
from scipy import optimize

from pipeline.statistics import arguments

_STEPS_A_DECADE = 4  # of a search for where an answer turns
_LEAST = 1e-6  # where a search upwards from 0 begins
_MOST_STEPS = 10_000  # of one search: halving down to a turn next to nothing takes a thousand


def capital_recovery(rate: float, years: float) -> float:
    """The amount a year, at each year's end, that repays 1 paid now: the factor (A/P, i, n).

    rate / (1 - (1 + rate)^-years), and 1 / years at rate 0. For a life that is no whole number of years the same
    formula is used.

    Args:
        rate: what money costs, a share a year (0.05 is 5 %), 0 or more.
        years: life, above 0.

    Returns:
        A share of the price a year, at least the rate and at least 1 / years.

    Raises:
        ValueError: rate is negative, years is not above 0, or either is not finite.

    Reference: IEC 60300-3-3 (life cycle costing); the tables of any textbook of engineering economy.
    """
    cost, life = arguments.number("rate", rate), arguments.positive("years", years)
    if cost < 0.0:
        raise arguments.refuse("rate", rate, "a number of 0 or more")
    # Written with expm1 and log1p, so that rates near 0 lose no digits.
    return cost / -math.expm1(-life * math.log1p(cost)) if cost else 1.0 / life


def present_value(yearly: float, rate: float, years: float) -> float:
    """What an amount at the end of each year is worth today: yearly / capital_recovery(rate, years), (P/A, i, n).

    Args:
        yearly: amount a year, any sign.
        rate: share a year, 0 or more.
        years: how long it is paid, above 0.

    Returns:
        An amount of today.

    Raises:
        ValueError: as `capital_recovery`, or yearly is not finite.

    Reference: as `capital_recovery`.
    """
    return arguments.number("yearly", yearly) / capital_recovery(rate, years)


def equivalent_annual_cost(price: float, rate: float, years: float, yearly: float = 0.0) -> float:
    """What a choice costs a year: its price over its life, and what it costs every year.

    price * capital_recovery(rate, years) + yearly. Choices with unlike lives are comparable by it where each would be
    made again at its end for the same price, in money of one year's worth. What was paid before is the same whatever is
    chosen and has no place in it.

    Args:
        price: paid now, less what is fetched for it at the end, as of now.
        rate: share a year, 0 or more.
        years: how long the price serves, above 0.
        yearly: paid every year.

    Returns:
        An amount a year.

    Raises:
        ValueError: as `capital_recovery`, or an amount is not finite.

    Reference: IEC 60300-3-3 (life cycle costing).
    """
    return arguments.number("price", price) * capital_recovery(rate, years) + arguments.number("yearly", yearly)


def break_even(
    difference: Callable[[float], float], now: float, low: float, high: float
) -> tuple[float | None, float | None]:
    """The nearest values below and above ``now`` at which ``difference`` changes its sign.

    The range is walked outwards in steps of a quarter of a decade; a step with two signs is searched by Brent's
    method. A difference that is straight or bends one way only, as those of costs in one price or rate are, changes
    sign at most twice, and two changes within one step are the only ones that can be missed.

    Args:
        difference: of one number; where it is 0 two choices cost the same.
        now: the value held today, from low to high.
        low: least value allowed, 0 or more.
        high: largest value allowed.

    Returns:
        (below, above), None where the sign holds up to the end of the range. Both are ``now`` where it is 0 there.

    Raises:
        ValueError: now is outside low to high, or low is negative.

    Reference: Brent (1973), Algorithms for Minimization without Derivatives, chapter 4.
    """
    if not 0.0 <= low <= now <= high or not math.isfinite(high):
        raise arguments.refuse("now", now, f"a number from low, {low}, to high, {high}, both of 0 or more")
    if difference(now) == 0.0:
        return now, now
    return _turn(difference, now, _downwards(now, low)), _turn(difference, now, _upwards(now, high))


def _upwards(now: float, high: float) -> Iterator[float]:
    start = max(now, _LEAST)
    if start >= high:
        return iter((high,))
    steps = math.ceil(_STEPS_A_DECADE * math.log10(high / start))
    return iter([*(float(x) for x in start * 10.0 ** (np.arange(1, steps) / _STEPS_A_DECADE)), high])


def _downwards(now: float, low: float) -> Iterator[float]:
    end = max(low, now * _LEAST)
    steps = math.ceil(_STEPS_A_DECADE * math.log10(now / end)) if end > 0.0 else 0
    return iter([*(float(x) for x in now * 10.0 ** (-np.arange(1, steps) / _STEPS_A_DECADE) if x > low), low])


def _turn(difference: Callable[[float], float], now: float, walk: Iterator[float]) -> float | None:
    before, sign = now, difference(now) > 0.0
    for place in walk:
        value = difference(place)
        if value == 0.0:
            return place
        if (value > 0.0) != sign:
            return float(optimize.brentq(difference, before, place, xtol=1e-300, rtol=1e-13, maxiter=_MOST_STEPS))
        before = place
    return None
