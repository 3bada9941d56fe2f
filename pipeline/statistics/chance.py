"""How likely a count is by luck alone: exact one-sided probabilities of at least so many.

Where a name has more events than its hours would give it, the first question is whether luck does that. Counts in a
playback room are small, so the tail is summed exactly and never taken from a normal curve.
"""

from scipy import special

from pipeline.statistics import arguments


def binomial_at_least(count: int, trials: int, share: float) -> float:
    """Probability of `count` or more among `trials`, each falling with probability `share`.

    P(X >= k) = I_share(k, n - k + 1), the regularised incomplete beta function; 1 for k = 0. Events of Poisson
    processes with one common rate fall, given their total n, into a part of the exposure as a binomial count whose
    share is that part of the exposure: this is the one-sided exact test of the part's rate against the whole's.

    Assumes events that come one by one and independently.

    Args:
        count: events seen in the part, from 0 to trials.
        trials: events seen in all.
        share: the part's share of the exposure, from 0 to 1.

    Returns:
        A probability from 0 to 1; 0 only where share is 0 and count above it, or where it is below the least float.

    Raises:
        ValueError: a count is not a whole number of 0 or more, count exceeds trials, share is outside [0, 1].

    Reference: Przyborowski and Wilenski (1940), Biometrika 31:313-323.
    """
    seen, total = arguments.count("count", count), arguments.count("trials", trials)
    if seen > total:
        raise arguments.refuse("count", count, f"at most trials, {total}")
    part = arguments.number("share", share)
    if not 0.0 <= part <= 1.0:
        raise arguments.refuse("share", share, "a share between 0 and 1")
    return float(special.betainc(seen, total - seen + 1, part)) if seen else 1.0


def poisson_at_least(count: int, mean: float) -> float:
    """Probability of `count` or more where `mean` are expected and events come independently (Poisson).

    P(N >= k) = P(k, mean), the regularised incomplete gamma function; 1 for k = 0.

    Args:
        count: events seen, a whole number.
        mean: events expected, 0 or more.

    Returns:
        A probability from 0 to 1.

    Raises:
        ValueError: count is not a whole number of 0 or more, mean is negative or not finite.

    Reference: Johnson, Kemp and Kotz, Univariate Discrete Distributions, the chapter on the Poisson distribution.
    """
    seen, expected = arguments.count("count", count), arguments.number("mean", mean)
    if expected < 0.0:
        raise arguments.refuse("mean", mean, "a number of 0 or more")
    return float(special.gammainc(seen, expected)) if seen else 1.0
