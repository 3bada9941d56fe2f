"""Two machines that fail together: the share of failures with a common cause, and what it does to a protected pair.

Protect helps only as far as the two machines fail apart. A few in a hundred failures that strike both at once can
outweigh every double failure that luck alone would bring, so the share is estimated from counts, with exact limits.
"""

import math
from dataclasses import dataclass

from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.limits import proportion_limits


@dataclass(frozen=True)
class SharedCause:
    """The share of a machine's failures that its partner has too, from a cause they share (the beta factor), 0 to 1.

    `value` is NaN where no failure was seen; `low` and `high` are exact limits.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class BothLost:
    """Chances, 0 to 1, that some time in a programme neither machine is good.

    `chance`: with the share given. `independent`: at the same failure rate with no shared cause. `shared`: that the
    shared cause strikes at all.
    """

    chance: float
    independent: float
    shared: float


def common_cause_share(
    singles: int, doubles: int, confidence: float = 0.95, *, chance_doubles: float = 0.0
) -> SharedCause:
    """Beta factor of a group of two: the share of each machine's failures that come from a cause both share.

    beta = 2 n2 / (n1 + 2 n2): of n1 + 2 n2 failures of single machines, 2 n2 came two at a time. The limits are those
    of Clopper and Pearson for the share a = n2 / (n1 + n2) of events that are double, turned into 2 a / (1 + a).
    Doubles that luck alone gives are two failures with two causes: with e of them expected, value and low are
    2 (a - e / (n1 + n2)) / (1 + a), never below 0. high is left as it is, so that a generous e cannot make it too low.

    Assumes events that come one by one and independently, each double with one chance; a single failure is seen as
    surely as a double one. e is taken as known.

    Args:
        singles: n1, events in which one of the two failed.
        doubles: n2, events in which both failed together.
        confidence: two-sided level.
        chance_doubles: e, doubles expected by luck alone, 0 or more.

    Returns:
        Value and limits. No double: value and low are exactly 0. Doubles alone and none by luck: value and high are 1.
        No event: value NaN, limits 0 and 1.

    Raises:
        ValueError: a count is not a whole number of 0 or more, confidence is outside (0, 1), chance_doubles is below 0.

    Reference: NUREG/CR-4780 vol. 2 (1989), beta factor and alpha factors of a group of two; IEC 61508-6 annex D;
    limits after Clopper and Pearson (1934), Biometrika 26:404-413.
    """
    one, two = arguments.count("singles", singles), arguments.count("doubles", doubles)
    luck = float(arguments.not_negative("chance_doubles", [chance_doubles])[0])
    low, high = proportion_limits(two, one + two, confidence)
    if not one + two:
        return SharedCause(math.nan, low, high)
    less = luck / (one + two)
    return SharedCause(_beta(two / (one + two), less), _beta(low, less), _beta(high, 0.0))


def _beta(double_share: float, less: float) -> float:
    """The beta factor at a share of events that are double, of which `less` are luck. It rises with the share."""
    return 2.0 * max(0.0, double_share - less) / (1.0 + double_share)


def least_share_found(events: int, doubles: int, power: float = 0.8) -> float:
    """The beta factor at which, among `events`, at least `doubles` are double with a chance of `power`.

    With a the share of events that are double, P(X >= k) = I_a(k, n - k + 1) = power is solved for a, and turned into
    2 a / (1 + a). Says how large a shared cause must have been to be found with so many events.

    Args:
        events: n, single and double together.
        doubles: k, the least number of doubles that would be called more than luck, at least 1.
        power: chance of finding it, between 0 and 1.

    Returns:
        A share from 0 to 1; infinite where n is less than k, so that no share could have been found.

    Raises:
        ValueError: a count is not a whole number of 0 or more, doubles is 0, power is outside (0, 1).

    Reference: Clopper and Pearson (1934), Biometrika 26:404-413 (the tail that is solved).
    """
    total, least = arguments.count("events", events), arguments.count("doubles", doubles)
    arguments.tail(power)
    if not least:
        raise arguments.refuse("doubles", doubles, "a whole number, 1 or more")
    if total < least:
        return math.inf
    return _beta(float(special.betaincinv(least, total - least + 1, power)), 0.0)


def both_lost(rate: float, hours: float, share: float = 0.0, *, cover_hours: float = math.inf) -> BothLost:
    """Chance that both machines of a pair are lost at once at some time in a programme that begins with both good.

    Three states: both good, one lost, both lost. Each machine fails by itself at (1 - beta) lambda, and at
    beta lambda a shared cause takes what still runs; one lost comes back at 1 / cover_hours. The chance is that of
    reaching "both lost" by the end, two exponentials in closed form. Where nothing comes back it is
    1 - exp(-beta lambda t) (1 - (1 - exp(-(1 - beta) lambda t))^2), for small lambda t about
    beta lambda t + ((1 - beta) lambda t)^2.

    Assumes constant rates and a return after an exponential time. A failure of one that lasts a second counts as a
    failure: what is lost may be short.

    Args:
        rate: lambda, failures per hour of one machine, 0 or more, shared ones included.
        hours: length of the programme, 0 or more.
        share: beta, from 0 to 1.
        cover_hours: mean time until a machine that failed is good and covers again, above 0; infinite: not in the
            programme.

    Returns:
        The three chances.

    Raises:
        ValueError: an argument is out of its range or not finite (but cover_hours).

    Reference: beta-factor model: Fleming (1975), General Atomic GA-A13284; IEC 61508-6 annex D.
    """
    fails, extent, beta = (float(arguments.not_negative(*pair)[0]) for pair in _pairs(rate, hours, share))
    if beta > 1.0:
        raise arguments.refuse("share", share, "a share between 0 and 1")
    back = 0.0 if cover_hours == math.inf else 1.0 / arguments.positive("cover_hours", cover_hours)
    struck = -math.expm1(-beta * fails * extent)
    return BothLost(_absorbed(fails, back, beta, extent), _absorbed(fails, back, 0.0, extent), struck)


def _pairs(rate: float, hours: float, share: float) -> tuple[tuple[str, list[float]], ...]:
    return ("rate", [rate]), ("hours", [hours]), ("share", [share])


def _absorbed(fails: float, back: float, share: float, hours: float) -> float:
    """Chance of having been in the state with both lost by the end, begun with both good.

    With rates p (one lost), s (both struck), m (back) and l (the other lost too), the chance to have been spared falls
    as two exponentials whose rates are the roots of r^2 + (p + s + m + l) r + l (p + s) + s m.
    """
    alone, struck = 2.0 * (1.0 - share) * fails, share * fails
    if not alone:
        return -math.expm1(-struck * hours)
    leaves, product = alone + struck, fails * (alone + struck) + struck * back
    spread = math.sqrt((leaves - back - fails) ** 2 + 4.0 * alone * back)
    fast = -(leaves + back + fails + spread) / 2.0
    slow = product / fast
    of_slow = (fast + struck) / (fast - slow)
    chance = -of_slow * math.expm1(slow * hours) - (1.0 - of_slow) * math.expm1(fast * hours)
    return min(1.0, max(0.0, chance))
