"""Finds resets too small to show as another track: a jump of seconds over a night looks like drift to a few rolls.

The pairs on both sides are right then, and only one straight line through all of them is wrong. So it is looked for
where two lines miss fewer of the pairs than one does, and the two do not meet.
"""

from __future__ import annotations

import numpy as np

from pipeline.ingest.clocks.clock_evidence import Floats
from pipeline.ingest.clocks.clock_fit import theil_sen

PAIRS_AT_LEAST = 5  # on either side; a shorter piece would not be corrected
MISSED_FEWER = 4  # pairs that one line misses and two do not, as many as a change of track costs
PLACES_AT_MOST = 48  # tried in one look, evenly; then all between the neighbours of the best
POINTS_AT_MOST = 40  # a line is laid through


def find_steps(house_s: Floats, machine_s: Floats, tolerance_s: float) -> list[int]:
    """Indices of the pairs (sorted by the machine's clock) that are the first after a jump of more than a tolerance.

    Between two jumps the clock may wander: what one line misses without a jump is left to the ± of the fit. Places are
    found one after the other, the first while later ones still stood in the way; so each is looked for again between
    its neighbours, and goes where there is none.
    """
    offset = machine_s - house_s
    found = _split(house_s, offset, tolerance_s)
    kept: list[int] = []
    for following in [*found[1:], offset.size][: len(found)]:
        first = kept[-1] if kept else 0
        at = _step(house_s[first:following], offset[first:following], tolerance_s)
        kept += [first + at] if at else []
    return kept


def _split(house: Floats, offset: Floats, tolerance_s: float) -> list[int]:
    at = _step(house, offset, tolerance_s)
    if not at:
        return []
    after = _split(house[at:], offset[at:], tolerance_s)
    return [*_split(house[:at], offset[:at], tolerance_s), at, *(at + place for place in after)]


def _step(house: Floats, offset: Floats, tolerance_s: float) -> int:
    """The one place where two lines do much better than one, and part; 0 if there is none."""
    if offset.size < 2 * PAIRS_AT_LEAST:
        return 0
    missed = _missed(house, offset, tolerance_s)
    if missed <= MISSED_FEWER:
        return 0
    at = _best_place(house, offset, tolerance_s)
    left = _missed(house[:at], offset[:at], tolerance_s) + _missed(house[at:], offset[at:], tolerance_s)
    return at if missed - left > MISSED_FEWER and _jump(house, offset, at) > tolerance_s else 0


def _best_place(house: Floats, offset: Floats, tolerance_s: float) -> int:
    low, high = PAIRS_AT_LEAST, offset.size - PAIRS_AT_LEAST
    best = low
    while True:
        places = np.unique(np.linspace(low, high, PLACES_AT_MOST).astype(int))
        costs = [
            _missed(house[:at], offset[:at], tolerance_s) + _missed(house[at:], offset[at:], tolerance_s)
            for at in places
        ]
        found = int(np.argmin(costs))
        best = int(places[found])
        if places.size == high - low + 1:
            return best
        low, high = int(places[max(found - 1, 0)]), int(places[min(found + 1, places.size - 1)])


def _line(house: Floats, offset: Floats) -> tuple[float, float]:
    """Slope, and level at house time 0."""
    kept = np.unique(np.linspace(0, offset.size - 1, POINTS_AT_MOST).astype(int))
    slope = theil_sen(house[kept], offset[kept])[0]
    return slope, float(np.median(offset - slope * house))


def _missed(house: Floats, offset: Floats, tolerance_s: float) -> int:
    slope, level = _line(house, offset)
    return int(np.count_nonzero(np.abs(offset - slope * house - level) > tolerance_s))


def _jump(house: Floats, offset: Floats, at: int) -> float:
    """How far the two lines are apart half-way between the last pair before the place and the first after it."""
    middle = (house[at - 1] + house[at]) / 2
    ends = [slope * middle + level for slope, level in (_line(house[:at], offset[:at]), _line(house[at:], offset[at:]))]
    return float(abs(ends[0] - ends[1]))
