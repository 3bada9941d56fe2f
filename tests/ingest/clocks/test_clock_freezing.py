"""What is learnt later does not move a stretch of a clock that a reset closed long before."""

from __future__ import annotations

import random

import numpy as np
import pytest

from pipeline.ingest.clocks.clock_freezing import LOOK_S, LOOKS, REST_S
from pipeline.ingest.clocks.clocks import ClockSegment, estimate_clock

DAY_S = 86400.0
BEGUN_S = 21_000 * DAY_S  # some midnight; looks fall on multiples of ninety days since 1970
NONE = np.empty(0)


def _clock(seed: int, days: int) -> tuple[np.ndarray, np.ndarray]:
    """Four starts a day; set anew every 35 to 60 days, to an error of up to a minute, the clock drifts 20 ppm."""
    draw = random.Random(seed)
    starts, rolls = [], []
    error, set_at, next_at = draw.uniform(-60, 60), 0.0, draw.uniform(35, 60) * DAY_S
    for no in range(4 * days):
        at = no * DAY_S / 4 + draw.uniform(0, 3000)
        if at >= next_at:
            error, set_at, next_at = draw.uniform(-60, 60), at, at + draw.uniform(35, 60) * DAY_S
        starts.append(BEGUN_S + at)
        rolls.append(BEGUN_S + at + error + 20e-6 * (at - set_at) + draw.uniform(0, 0.25))
    return np.array(starts), np.array(rolls)


def _segments(starts: np.ndarray, rolls: np.ndarray) -> tuple[ClockSegment, ...]:
    return estimate_clock("VT1", starts, rolls, NONE, NONE, start_delay_s=0, stamp_resolution_s=0.001).segments


@pytest.mark.parametrize("seed", range(6))
def test_a_closed_stretch_rests(seed: int) -> None:
    """As the record stood at its second look and as it stands a year later, what had rested by then is the same."""
    starts, rolls = _clock(seed, 400)
    look_s = (BEGUN_S // LOOK_S + 3) * LOOK_S
    early, late = _segments(starts[rolls <= look_s], rolls[rolls <= look_s]), _segments(starts, rolls)
    resting = [each for each in early if each.ended_s <= look_s - REST_S]
    assert len(resting) >= 2  # at least 180 days, of which the last 30 do not count, and no stretch is longer than 60
    assert list(late[: len(resting)]) == resting
    assert all(abs(each.drift_ppm - 20) < 5 for each in resting if each.pairs > 100)  # as the clock was made


def test_what_comes_later_cannot_reach_back() -> None:
    """A later month in which starts and rolls are of another machine altogether leaves what rests alone."""
    starts, rolls = _clock(1, 200)
    draw = random.Random(5)
    noise = BEGUN_S + 270 * DAY_S + np.sort([draw.uniform(0, 30 * DAY_S) for _ in range(400)])
    other = BEGUN_S + 270 * DAY_S + np.sort([draw.uniform(0, 30 * DAY_S) for _ in range(400)])
    look_s = (BEGUN_S // LOOK_S + 2) * LOOK_S
    plain = _segments(starts, rolls)
    mixed = _segments(np.concatenate([starts, noise]), np.concatenate([rolls, other]))
    resting = [each for each in plain if each.ended_s <= look_s - REST_S]
    assert resting
    assert list(mixed[: len(resting)]) == resting


def test_a_look_once_taken_in_vain_is_known_again() -> None:
    """A clock never set finds nothing at any look, and the same record asks for none of them anew."""
    starts = BEGUN_S + np.arange(0, 400) * DAY_S
    LOOKS.begin(())
    first = _segments(starts, starts + 0.1)
    taken = LOOKS.used()
    LOOKS.begin(taken)
    assert _segments(starts, starts + 0.1) == first
    assert LOOKS.used() == taken
    assert len(taken) in (4, 5)  # 400 days hold four multiples of ninety days, or five
