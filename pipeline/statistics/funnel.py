"""Limits about one common rate, the wider the fewer the hours: a picture of many rates that is no ranking.

A machine with few hours scatters far by luck alone. Drawn against its hours, with the limits that luck would keep at
those hours, it is judged by its distance from the limits and not by its place in a row.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray


def funnel_limits(rate: float, exposures: ArrayLike, confidence: float = 0.95) -> tuple[FloatArray, FloatArray]:
    """Exact limits of what a machine with the common rate shows, at each exposure.

    With a = 1 - confidence and m = rate * exposure, high is the count c, taken as a real number, with P(X >= c) = a/2,
    and low the c with P(X <= c) = a/2, X Poisson(m), both divided by exposure; the tails are the incomplete gamma
    functions of `poisson_limits`. So a rate lies above high, or below low, exactly where its own exact limits at the
    same confidence leave out the common rate. Where even no event is likelier than a/2, low is 0.

    Assumes events that come one by one at a common rate that is known; the machines judged also set the room's.

    Args:
        rate: the common rate, above 0.
        exposures: shape (n,), each above 0.
        confidence: two-sided level; 1 - 0.05 / n for limits that allow for n machines.

    Returns:
        (low, high), each of shape (n,), events per unit of exposure.

    Raises:
        ValueError: rate or an exposure is not above 0, confidence is outside (0, 1).

    Reference: Spiegelhalter (2005), Statistics in Medicine 24:1185-1202 (funnel plots); the limits are Garwood's, 1936.
    """
    common, tail = arguments.positive("rate", rate), arguments.tail(confidence)
    extent = arguments.vector("exposures", exposures)
    if (extent <= 0.0).any():
        raise arguments.refuse("exposures", extent.min(), "numbers above 0")
    mean = common * extent
    # P(X <= c) is the upper incomplete gamma ratio of c + 1, and P(X >= c) the lower one of c, for real c too.
    lows = np.where(np.exp(-mean) >= tail, 0.0, _count(mean, tail))
    highs = _count(mean, 1.0 - tail) + 1.0
    return lows / extent, highs / extent


def _count(mean: FloatArray, share: float) -> FloatArray:
    """The real count c, above -1, with P(X <= c) = share, by halving: the tail falls all the way as c falls."""
    low, high = np.full(mean.shape, -1.0), mean + 40.0 * np.sqrt(mean) + 60.0
    for _ in range(100):
        middle = (low + high) / 2.0
        is_below = special.gammaincc(middle + 1.0, mean) < share
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return (low + high) / 2.0
