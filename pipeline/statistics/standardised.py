"""Seen against expected, when each machine was given its own mix of easy and hard work.

A machine that always plays old reels has more faults than one that plays new ones, and is no worse. Indirect
standardisation asks how many events the machine would have had if each kind of its hours went at the room's own rate.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray
from pipeline.statistics.stratified import stratified_rate_ratio


@dataclass(frozen=True)
class StandardisedRatio:
    """Events seen over events expected of one machine, with limits."""

    seen: int
    expected: float
    ratio: float  # NaN where nothing is expected
    low: float
    high: float


def standardised_ratio(
    counts: ArrayLike,
    exposures: ArrayLike,
    room_counts: ArrayLike,
    room_exposures: ArrayLike,
    *,
    confidence: float = 0.95,
) -> StandardisedRatio:
    """Seen over expected of a machine by indirect standardisation, with exact conditional limits.

    expected = sum over classes of work of n_s t_s / T_s, with the machine's exposure t_s and the room's events n_s and
    exposure T_s, the machine's own among them. If in every class the machine's rate is r times that of the others, its
    count given the room's is a sum of independent binomials of n_s with share r t_s / (r t_s + T_s - t_s). The exact
    limits of r (see `stratified_rate_ratio`) are turned into the count that would then be seen on average, over what is
    expected; so they leave out 1 exactly where the limits of r do. With one class they are the Clopper-Pearson limits
    of the machine's share of events over its share of exposure.

    Assumes events that come one by one, the same rate within a class, and a machine that is better or worse by the
    same factor in all.

    Args:
        counts: the machine's events in each class, whole numbers, shape (classes,).
        exposures: its exposure in each class; 0 only where its count is 0.
        room_counts: the room's events in each class, at least the machine's.
        room_exposures: the room's exposure in each class, at least the machine's.
        confidence: two-sided level.

    Returns:
        StandardisedRatio. Where nothing is expected: ratio NaN, limits 0 and infinity.

    Raises:
        ValueError: a count or exposure is negative, not finite or not whole, they do not pair up, a count stands where
            exposure is 0, the machine has more than the room, confidence is outside (0, 1).

    Reference: Breslow and Day (1987), Statistical Methods in Cancer Research II, chapter 2; Martin and Austin (1996),
    Epidemiology 7:29-33, for the exact conditional limits over classes.
    """
    arguments.tail(confidence)
    own, time, events, extent = _checked(counts, exposures, room_counts, room_exposures)
    is_met = (time > 0.0) & (events > 0.0)
    own, time, events, extent = own[is_met], np.minimum(time, extent)[is_met], events[is_met], extent[is_met]
    share = time / extent
    expected = float((events * share).sum())
    if expected == 0.0:
        return StandardisedRatio(int(own.sum()), 0.0, math.nan, 0.0, math.inf)
    _, low, high, _ = stratified_rate_ratio(own, time, events - own, extent - time, confidence=confidence)
    below, above = (_mean(events, share, ratio) / expected for ratio in (low, high))
    seen = int(own.sum())
    return StandardisedRatio(seen, expected, seen / expected, below, above)


def _checked(
    counts: ArrayLike, exposures: ArrayLike, room_counts: ArrayLike, room_exposures: ArrayLike
) -> tuple[FloatArray, ...]:
    """The four as arrays that pair up, the machine within the room."""
    own, time = arguments.not_negative("counts", counts), arguments.not_negative("exposures", exposures)
    events, extent = arguments.counts_and_exposures(room_counts, room_exposures)
    arguments.same_length("counts", own, "room_counts", events)
    arguments.same_length("exposures", time, "room_exposures", extent)
    if ((time == 0.0) & (own > 0.0)).any():
        raise arguments.refuse("exposures", 0.0, "a number above 0 wherever the count is above 0")
    if (own > events).any() or (time > extent * (1.0 + 1e-9)).any():
        raise ValueError("A machine has more events or exposure than the room, of which it is a part.")
    return own, time, events, extent


def _mean(events: FloatArray, share: FloatArray, ratio: float) -> float:
    """What is seen on average of the room's events at a rate ratio; all of a class that no other machine worked in."""
    if math.isinf(ratio):
        return float(events.sum())
    at = np.where(share < 1.0, ratio * share / (ratio * share + 1.0 - share + (share == 1.0)), 1.0)
    return float((events * at).sum())
