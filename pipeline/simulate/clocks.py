"""Machines whose clock is wrong: a constant error, of which there are start commands enough to find it out.

Errors are whole eighths of a second: a double then holds a stamp and the stamp plus the error with the same rounding,
so that the error comes back exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.simulate.draws import Draw
from pipeline.simulate.parameters import SECOND, Parameters

EVERY = 3  # every third machine's clock is wrong
EIGHTH = SECOND // 8
PAIRS_AT_LEAST = 8  # five would do to correct a clock; some more outvote chance


@dataclass(frozen=True)
class ClockErrors:
    """By machine: clock minus house in microseconds (0: right), and the rolls that answer a start command."""

    error_us: tuple[int, ...]
    pairs: tuple[int, ...]


def clock_errors(parameters: Parameters, events: pl.DataFrame) -> ClockErrors:
    """An error up to ``clock_error`` either way for every third machine with enough rolls."""
    rolls: dict[int, int] = dict(events.filter(pl.col("event") == "roll").group_by("machine").len().rows())
    draw, machines = Draw.of(parameters.seed, 6), np.arange(len(parameters.machines))
    most = int(parameters.clock_error * 8)
    size = draw.whole(machines, 1, max(most, 1) + 1) * (2 * draw.whole(machines, 0, 2) - 1) * EIGHTH
    pairs = tuple(rolls.get(machine, 0) for machine in machines.tolist())
    wrong = [most > 0 and machine % EVERY == 1 and pairs[machine] >= PAIRS_AT_LEAST for machine in machines.tolist()]
    return ClockErrors(tuple(int(us) if is_wrong else 0 for us, is_wrong in zip(size, wrong, strict=True)), pairs)
