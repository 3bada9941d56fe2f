"""When which pair plays what: slots of equal length on each channel, one transmission in each, never close together.

Between the windows of a channel lie at least 20 minutes, and a pair is made ready after the last use is put away, so
that no transmission's truth hangs on another's.
"""

from __future__ import annotations

import numpy as np

from pipeline.simulate.draws import Draw
from pipeline.simulate.parameters import DAY_S, SECOND, Parameters
from pipeline.simulate.script import Shows

BEFORE_S, LATER_S, AFTER_S = 900, 600, 300  # room in a slot before the earliest start, for the start, after the end
SHORTEST_MIN, LONGEST_MIN = 20, 180


def book_transmissions(parameters: Parameters) -> Shows:
    """Every transmission of the room, by slot and channel. Starts are whole seconds, lengths whole minutes."""
    slot_s = DAY_S // parameters.programmes
    day_us, slot_us = DAY_S * SECOND, slot_s * SECOND
    days = np.arange(parameters.started_us, parameters.ended_us, day_us, dtype=np.int64)
    slots = (days[:, None] + slot_us * np.arange(parameters.programmes)).ravel()
    slots = slots[slots + slot_us <= parameters.ended_us]
    number = np.arange(len(slots) * parameters.channels)
    turn, channel = np.divmod(number, parameters.channels)
    draw = Draw.of(parameters.seed, 1)
    start = slots[turn] + SECOND * (BEFORE_S + draw.whole(number, 0, LATER_S))
    longest = min(LONGEST_MIN, (slot_s - BEFORE_S - LATER_S - AFTER_S) // 60)
    length = draw.whole(number, SHORTEST_MIN, longest + 1) * 60 * SECOND
    pair = (turn + channel) % parameters.pairs
    swapped = draw.whole(number, 0, 2)
    return Shows(number, channel, 2 * pair + swapped, 2 * pair + 1 - swapped, start, start + length)
