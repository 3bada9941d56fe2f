"""What is known of one machine's clock: start commands on house time, and stamps on the clock itself.

Kept apart from the matching because times are counted here from one origin: seconds since 1970 leave a float a quarter
of a microsecond, and a clock that is exactly 42 s fast must come back exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

MAX_DRIFT = 300e-6  # quartz stays inside 200 ppm, with room; common practice, no source
REACH_S = 14 * 3600.0  # a clock set to a wrong zone is at most this far out, drift of some months included
READING_WEIGHT = 3  # a `clock` line names the offset itself, so it outweighs a pair that has to be guessed
SCATTER_S = 0.3  # from start command to roll varies by about a quarter second; common practice, no source


@dataclass(frozen=True)
class Evidence:
    """Sorted times in seconds since `origin_s`.

    `raw_s` are rolls and clock readings on the machine's clock, `reading_s` machine minus house for a reading and NaN
    for a roll, `starts_s` start commands on house time with the start delay added.
    """

    origin_s: float
    raw_s: Floats
    reading_s: Floats
    starts_s: Floats
    tolerance_s: float

    @property
    def weight(self) -> Floats:
        """Votes of each stamp: one for a roll, READING_WEIGHT for a reading."""
        return np.where(np.isnan(self.reading_s), 1.0, float(READING_WEIGHT))

    def nearest(self, offset_s: Floats) -> tuple[Floats, Floats]:
        """House time that belongs to each stamp if the clock ran `offset_s` fast, and what is left over (inf: none)."""
        house = self.raw_s - self.reading_s
        if self.starts_s.size:
            wanted = self.raw_s - offset_s
            at = np.clip(np.searchsorted(self.starts_s, wanted), 1, max(1, self.starts_s.size - 1))
            before, after = self.starts_s[at - 1], self.starts_s[np.minimum(at, self.starts_s.size - 1)]
            closest = np.where(wanted - before <= after - wanted, before, after)
            house = np.where(np.isnan(house), closest, house)
        left_over = self.raw_s - house - offset_s
        return house, np.where(np.isnan(left_over), np.inf, left_over)


def collect_evidence(
    starts_s: Floats, rolls_s: Floats, stamps_s: Floats, values_s: Floats, *, start_delay_s: float, resolution_s: float
) -> Evidence:
    """Evidence from epoch seconds; equal stamps count once, non-finite ones not at all.

    Assumes that a stamp is right to `resolution_s`, rounded or cut off.
    """
    starts, rolls = _finite(starts_s), _finite(rolls_s)
    kept = np.isfinite(stamps_s) & np.isfinite(values_s)
    readings = np.unique(np.column_stack([stamps_s[kept], values_s[kept]]), axis=0)
    first = next((float(times[0]) for times in (starts, rolls, readings[:, 0]) if times.size), 0.0)
    origin = float(np.floor(first))
    raw = np.concatenate([rolls, readings[:, 0]]) - origin
    reading = np.concatenate([np.full(rolls.size, np.nan), readings[:, 1]])
    order = np.argsort(raw, kind="stable")
    tolerance = SCATTER_S + resolution_s
    return Evidence(origin, raw[order], reading[order], (starts - origin) + start_delay_s, tolerance)


def _finite(times_s: Floats) -> Floats:
    times = np.asarray(times_s, dtype=np.float64)
    return np.unique(times[np.isfinite(times)])
