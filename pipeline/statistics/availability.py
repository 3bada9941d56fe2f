"""How much of the time something is there: one unit, a pair that may fail together, and what is seen only when tested.

A pair's worth is not how seldom one machine fails but how seldom neither is there. With constant rates that is a closed
form, so a measured failure rate, time to return and shared cause give the hours without programme to be expected.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import linalg, special

from pipeline.statistics import arguments


@dataclass(frozen=True)
class UnitAvailability:
    """One unit: share of time it is up in the long run, chance that it is up at a time, and mean share up to it."""

    steady: float
    at_time: float
    mean: float


@dataclass(frozen=True)
class PairAvailability:
    """A pair of which one is enough.

    `unavailability`: share of time with neither in the long run. `time_to_first_loss`: mean time from both good to
    neither; infinite where nothing fails. `losses_per_hour`: how often it is lost in the long run (per unit of time).
    """

    unavailability: float
    time_to_first_loss: float
    losses_per_hour: float

    @property
    def availability(self) -> float:
        """Share of time with at least one, in the long run."""
        return 1.0 - self.unavailability


def unit_availability(failure_rate: float, repair_rate: float, time: float = math.inf) -> UnitAvailability:
    """Availability of one unit that is up at time 0, fails at lambda and comes back at mu.

    A = mu / (lambda + mu); A(t) = A + (1 - A) exp(-(lambda + mu) t); its mean over (0, t) is
    A + (1 - A) (1 - exp(-(lambda + mu) t)) / ((lambda + mu) t).

    Assumes exponential times up and down.

    Args:
        failure_rate: lambda per hour (or any unit of time), 0 or more.
        repair_rate: mu per the same unit, above 0.
        time: t, 0 or more; infinite: the long run.

    Returns:
        Three shares, 0 to 1; at time 0 the last two are 1.

    Raises:
        ValueError: a rate is out of its range, time is negative.

    Reference: IEC 61703:2016; MIL-HDBK-338B (1998) section 10.
    """
    fails, back = _rates(failure_rate, repair_rate)
    steady = back / (fails + back)
    if time == math.inf:
        return UnitAvailability(steady, steady, steady)
    age = float(arguments.not_negative("time", [time])[0]) * (fails + back)
    mean = -math.expm1(-age) / age if age else 1.0
    return UnitAvailability(steady, steady + (1.0 - steady) * math.exp(-age), steady + (1.0 - steady) * mean)


def pair_availability(
    failure_rate: float, repair_rate: float, share: float = 0.0, *, crews: int = 2
) -> PairAvailability:
    """A pair of like units, both running, one enough, that share the part `share` (beta) of their failures' causes.

    States: both good, one, neither. From both good one is lost at 2 (1 - beta) lambda and both at beta lambda; from one
    the other is lost at lambda; units come back at mu each, one at a time with one crew. The long-run shares solve the
    balance of flows, the mean time to the first loss the usual equations of absorption. Without shared cause and with
    two crews the unavailability is (lambda / (lambda + mu))^2 and the mean time (3 lambda + mu) / (2 lambda^2).

    Assumes constant rates, and that a shared cause takes all that runs.

    Args:
        failure_rate: lambda of each unit per hour (or any unit of time), 0 or more, shared failures included.
        repair_rate: mu of each, per the same unit, above 0.
        share: beta, 0 to 1.
        crews: how many can be mended at a time, 1 or 2.

    Returns:
        Unavailability, mean time to the first loss, losses per unit of time.

    Raises:
        ValueError: an argument is out of its range.

    Reference: MIL-HDBK-338B (1998) sections 7 and 10; Birolini, Reliability Engineering, 1-out-of-2 redundancy; shared
    cause by the beta factor: NUREG/CR-4780 (1989), IEC 61508-6 annex D.
    """
    fails, back = _rates(failure_rate, repair_rate)
    beta = float(arguments.not_negative("share", [share])[0])
    if beta > 1.0:
        raise arguments.refuse("share", share, "a share between 0 and 1")
    if crews not in (1, 2):
        raise arguments.refuse("crews", crews, "1 or 2")
    if not fails:
        return PairAvailability(0.0, math.inf, 0.0)
    alone, struck, both_back = 2.0 * (1.0 - beta) * fails, beta * fails, crews * back
    balance = np.array([[-alone - struck, back, 0.0], [struck, fails, -both_back], [1.0, 1.0, 1.0]])
    shares = linalg.solve(balance, np.array([0.0, 0.0, 1.0]))
    first = (back + fails + alone) / (fails * (alone + struck) + back * struck)
    return PairAvailability(float(shares[2]), first, float(shares[2]) * both_back)


def failure_on_demand(
    failure_rate: float, test_interval: float, repair_time: float, *, noticed: float = 0.0, share: float | None = None
) -> float:
    """Mean chance that a protection is dead when asked, where what is not noticed at once is found only by a test.

    One channel (share None): ((1 - d) l) (T / 2 + r) + d l r, with d the part noticed at once, T the interval of tests
    and r the time to mend. Two channels, one enough, with shared cause beta, of what is noticed at once half of it:
    2 ((1 - beta / 2) d l + (1 - beta) (1 - d) l)^2 t1 t2 + (beta / 2) d l r + beta (1 - d) l (T / 2 + r), where t1 and
    t2 are (1 - d) (T / n + r) + d r with n = 2 and 3. The first order in l T: for chances well below 1.

    Args:
        failure_rate: l, dangerous failures per hour of one channel, 0 or more.
        test_interval: T hours, above 0.
        repair_time: r hours, 0 or more.
        noticed: d, 0 to 1.
        share: beta, 0 to 1; None: one channel.

    Returns:
        A mean chance over the interval.

    Raises:
        ValueError: an argument is out of its range.

    Reference: IEC 61508-6:2010 annex B.3.2.2, tables B.2 to B.4.
    """
    fails = float(arguments.not_negative("failure_rate", [failure_rate])[0])
    interval = arguments.positive("test_interval", test_interval)
    mend = float(arguments.not_negative("repair_time", [repair_time])[0])
    seen, beta = (float(arguments.not_negative("noticed, share", [part])[0]) for part in (noticed, share or 0.0))
    if max(seen, beta) > 1.0:
        raise arguments.refuse("noticed, share", max(seen, beta), "a share between 0 and 1")
    first, second = ((1.0 - seen) * (interval / part + mend) + seen * mend for part in (2, 3))
    if share is None:
        return fails * first
    apart = (1.0 - beta / 2.0) * seen * fails + (1.0 - beta) * (1.0 - seen) * fails
    together = beta / 2.0 * seen * fails * mend + beta * (1.0 - seen) * fails * (interval / 2.0 + mend)
    return 2.0 * apart**2 * first * second + together


def availability_limits(
    failures: int, repairs: int, *, up: float, down: float, confidence: float = 0.95
) -> tuple[float, float, float]:
    """Operational availability up / (up + down), with limits by the F distribution.

    With a = 1 - confidence and r = (down / repairs) / (up / failures), the limits are 1 / (1 + r k F) with
    k = (failures + 1) / failures and F the quantile 1 - a/2 (low) and a/2 (high) of the F distribution with
    2 (failures + 1) and 2 repairs degrees of freedom. One failure more is counted, as the watch ends while the unit is
    up; so low errs to the safe side. Where failures and repairs differ much, the share seen may lie outside.

    Assumes exponential times up and down, independent of each other.

    Args:
        failures: times up that ended, at least 1.
        repairs: times down that ended, at least 1.
        up: time up in all, above 0.
        down: time down in all, same unit, above 0.
        confidence: two-sided level.

    Returns:
        (availability, low, high), shares of time.

    Raises:
        ValueError: a count is no whole number of 1 or more, a time is not above 0, confidence is outside (0, 1).

    Reference: Keesee (1965), A Method of Determining a Confidence Interval for Availability, DTIC AD0617716.
    """
    lost, mended = (arguments.count(*pair) for pair in (("failures", failures), ("repairs", repairs)))
    if not lost or not mended:
        raise arguments.refuse("failures, repairs", min(lost, mended), "a whole number, 1 or more")
    good, bad, tail = arguments.positive("up", up), arguments.positive("down", down), arguments.tail(confidence)
    ratio = (bad / mended) * (lost + 1) / good
    quantiles = [float(special.fdtri(2 * (lost + 1), 2 * mended, part)) for part in (1.0 - tail, tail)]
    low, high = (1.0 / (1.0 + ratio * quantile) for quantile in quantiles)
    return good / (good + bad), low, high


def _rates(failure_rate: float, repair_rate: float) -> tuple[float, float]:
    fails = float(arguments.not_negative("failure_rate", [failure_rate])[0])
    return fails, arguments.positive("repair_rate", repair_rate)
