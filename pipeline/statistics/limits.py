"""Exact limits for counts, rates and shares.

A playback room sees few events: three forced switches in a month, no failed demand in a year. Normal approximations
break down exactly there, so every limit here inverts the tail probability of the count itself and stays honest at zero.
"""

import math

from scipy import special

from pipeline.statistics import arguments


def poisson_limits(count: int, exposure: float = 1.0, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided limits of a Poisson rate (Garwood).

    With a = 1 - confidence, low = chi2(a/2; 2 count) / (2 exposure) and high = chi2(1 - a/2; 2 count + 2) / (2
    exposure): the rates at which a count this high, or this low, has probability a/2.

    Assumes events that come one by one, independently, at a constant rate. Clustered events need wider limits.

    Args:
        count: events seen, a whole number.
        exposure: what they were seen in (hours, transmissions ...), above 0.
        confidence: two-sided level; a one-sided bound at level g is the limit at confidence 2 g - 1.

    Returns:
        (low, high) in events per unit of exposure. At count 0, low is exactly 0.

    Raises:
        ValueError: count is not a whole number of 0 or more, exposure is not above 0, confidence is outside (0, 1).

    Reference: Garwood (1936), Biometrika 28:437-442.
    """
    seen, extent, tail = (
        arguments.count("count", count),
        arguments.positive("exposure", exposure),
        arguments.tail(confidence),
    )
    low = float(special.gammaincinv(seen, tail)) if seen else 0.0
    return low / extent, float(special.gammainccinv(seen + 1, tail)) / extent


def proportion_limits(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided limits of a share (Clopper-Pearson).

    With a = 1 - confidence, low = Beta(a/2; k, n - k + 1) and high = Beta(1 - a/2; k + 1, n - k) for k successes in n
    trials. Assumes independent trials with one chance of success. Coverage is at least `confidence`, usually more.

    Args:
        successes: trials that succeeded, from 0 to trials.
        trials: trials in all; with none, nothing is known and the limits are (0, 1).
        confidence: two-sided level.

    Returns:
        (low, high), shares from 0 to 1. low is exactly 0 at no success, high exactly 1 at no failure.

    Raises:
        ValueError: a count is not a whole number of 0 or more, successes exceeds trials, confidence is outside (0, 1).

    Reference: Clopper and Pearson (1934), Biometrika 26:404-413.
    """
    good, total, tail = (
        arguments.count("successes", successes),
        arguments.count("trials", trials),
        arguments.tail(confidence),
    )
    if good > total:
        raise arguments.refuse("successes", successes, f"at most trials, {total}")
    low = float(special.betaincinv(good, total - good + 1, tail)) if good else 0.0
    high = float(special.betainccinv(good + 1, total - good, tail)) if good < total else 1.0
    return low, high


def rate_ratio(
    count_a: int, exposure_a: float, count_b: int, exposure_b: float, confidence: float = 0.95
) -> tuple[float, float, float, float]:
    """Ratio of two Poisson rates, a over b, with exact conditional limits and p-value.

    Given the total, count_a is binomial with share q = r t_a / (r t_a + t_b) for a ratio r and exposures t. The limits
    are the Clopper-Pearson limits of q turned into r = q t_b / ((1 - q) t_a). p tests r = 1: twice the smaller binomial
    tail, at most 1 (the "central" p), so p < 1 - confidence exactly when the limits leave out 1. The minimum-likelihood
    p that some programs print beside the same limits does not have this property.

    Assumes both counts Poisson and independent.

    Args:
        count_a: events in group a.
        exposure_a: exposure of group a, above 0.
        count_b: events in group b.
        exposure_b: exposure of group b in the same unit, above 0.
        confidence: two-sided level of the limits.

    Returns:
        (ratio, low, high, p). No event in b: ratio and high are infinite. No event at all: ratio is NaN, the limits are
        0 and infinity, p is 1.

    Raises:
        ValueError: a count is not a whole number of 0 or more, an exposure is not above 0, confidence is outside (0,
            1).

    Reference: Lehmann (1986), Testing Statistical Hypotheses, p. 152; Przyborowski and Wilenski (1940), Biometrika
    31:313-323.
    """
    a, b = arguments.count("count_a", count_a), arguments.count("count_b", count_b)
    time_a, time_b = arguments.positive("exposure_a", exposure_a), arguments.positive("exposure_b", exposure_b)
    low, high = (_odds(share) * time_b / time_a for share in proportion_limits(a, a + b, confidence))
    ratio = _odds(a / (a + b)) * time_b / time_a if a + b else math.nan
    return ratio, low, high, _central_p(a, a + b, time_a / (time_a + time_b))


def mtbf_limits(failures: int, time: float, confidence: float = 0.9, truncation: str = "time") -> tuple[float, float]:
    """Exact two-sided limits of a mean time between failures (chi-square).

    With a = 1 - confidence, r failures and total time T, low = 2 T / chi2(1 - a/2; d) and high = 2 T / chi2(a/2; 2 r),
    where d = 2 r + 2 when the watch stopped at a set time and d = 2 r when it stopped at the last failure.

    Assumes a constant failure rate (exponential times between failures) and repair to as-good-as-before.

    Args:
        failures: failures seen.
        time: total running time of all units, above 0.
        confidence: two-sided level; a one-sided lower bound at level g is low at confidence 2 g - 1.
        truncation: "time" when the watch ended at a set time, "failure" when it ended with the last failure.

    Returns:
        (low, high) in the unit of time. No failure: high is infinite, low = T / -ln(a/2).

    Raises:
        ValueError: failures is not a whole number of 0 or more, time is not above 0, confidence is outside (0, 1),
            truncation is another word, or "failure" comes with no failure.

    Reference: MIL-HDBK-338B (1998) 8.3.2.5; NIST/SEMATECH e-Handbook of Statistical Methods 8.4.5.1.
    """
    if truncation not in ("time", "failure"):
        raise arguments.refuse("truncation", truncation, '"time" or "failure"')
    seen, total = arguments.count("failures", failures), arguments.positive("time", time)
    tail = arguments.tail(confidence)
    if truncation == "failure" and seen == 0:
        raise arguments.refuse("failures", failures, 'at least 1 where truncation is "failure"')
    most = float(special.gammainccinv(seen if truncation == "failure" else seen + 1, tail))
    return total / most, (total / float(special.gammaincinv(seen, tail)) if seen else math.inf)


def _odds(share: float) -> float:
    return share / (1.0 - share) if share < 1.0 else math.inf


def _central_p(successes: int, trials: int, share: float) -> float:
    """Twice the smaller tail of a binomial count, at most 1."""
    below = float(special.bdtr(successes, trials, share))
    above = float(special.bdtrc(successes - 1, trials, share)) if successes else 1.0
    return min(1.0, 2.0 * min(below, above))
