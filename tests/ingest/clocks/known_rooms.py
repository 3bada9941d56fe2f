"""Machines with known clocks: what the start commands and the rolls look like when the truth is drawn first.

Everything is drawn with a seed. Delays from command to roll vary by up to a quarter of a second, for two machines
started by one command can come up as much as a quarter of a second apart (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ingest.clocks.clocks import ClockSegment, MachineClock, estimate_clock

Floats = npt.NDArray[np.float64]
ORIGIN_S = 1_930_003_200.0  # some day in 2031
DAY_S = 86400.0
JITTER_S = 0.25
KINDS = ("right", "offset", "drift", "hour", "reset")


@dataclass(frozen=True)
class Law:
    """What a clock does: machine minus house in s at day 0, ppm gained, and resets (day, offset from then on)."""

    offset_s: float = 0.0
    drift_ppm: float = 0.0
    resets: tuple[tuple[float, float], ...] = ()

    def offset_at(self, house_s: Floats) -> Floats:
        """Machine minus house at house epoch seconds."""
        since = np.asarray(house_s, dtype=np.float64) - ORIGIN_S
        offset: Floats = self.offset_s + self.drift_ppm * 1e-6 * since
        for day, jump in self.resets:
            after = since - day * DAY_S
            offset = np.where(after >= 0, jump + self.drift_ppm * 1e-6 * after, offset)
        return offset


@dataclass(frozen=True)
class Known:
    """A machine: its law, the commands on house time, its rolls on its own clock, and what the site knows of it."""

    kind: str
    law: Law
    starts_s: Floats
    rolls_s: Floats
    step_s: float
    start_delay_s: float

    def estimate(self) -> MachineClock:
        nothing = np.empty(0)
        return estimate_clock(
            "VT1", self.starts_s, self.rolls_s, nothing, nothing,
            start_delay_s=self.start_delay_s, stamp_resolution_s=self.step_s,
        )  # fmt: skip

    def misses_s(self, segment: ClockSegment) -> tuple[float, float]:
        """Estimate minus truth at the segment's first and last pair."""
        drift = segment.drift_ppm * 1e-6
        house = np.array([segment.pair_house_s[0], segment.reference_s - segment.offset_s])
        said = segment.offset_s + drift * (house - house[-1])
        first, last = said - self.law.offset_at(house)
        return float(first), float(last)


def draw_law(rng: np.random.Generator, kind: str, days: float) -> Law:
    """A law of one of KINDS: offsets to ±90 s, drifts to ±200 ppm, whole hours, one reset well inside the period."""
    if kind == "right":
        return Law()
    if kind == "hour":
        return Law(3600.0 * float(rng.choice([-12, -2, -1, 1, 2, 11])), float(rng.choice([0, rng.uniform(-200, 200)])))
    offset, drift = float(rng.uniform(-90, 90)), float(rng.uniform(-200, 200))
    if kind == "offset":
        return Law(offset)
    if kind == "drift":
        return Law(offset, drift)
    return Law(offset, drift, ((days * float(rng.uniform(0.3, 0.7)), float(rng.uniform(-90, 90))),))


def commands(rng: np.random.Generator, count: int, days: float) -> Floats:
    """Start commands in sittings of some, half a minute to a quarter of an hour apart: closer than many an offset."""
    sittings = max(1, count // 8)
    opened = np.sort(rng.uniform(0, days * DAY_S, sittings))
    gaps = rng.exponential(200.0, (sittings, 8)) + 20.0
    times = (opened[:, None] + np.cumsum(gaps, axis=1)).ravel()
    return ORIGIN_S + np.unique(np.round(np.sort(times), 3))


def draw_machine(seed: int, kind: str, *, step_s: float = 0.001, is_delay_known: bool = True) -> Known:
    """One machine. A tenth to a third of the rolls are missing, as many commands are spare, some rolls are local."""
    rng = np.random.default_rng([seed, KINDS.index(kind), round(step_s * 1000)])
    days = float(rng.uniform(10, 100))
    starts = commands(rng, int(rng.integers(24, 400)), days)
    widest = float(rng.uniform(0.02, JITTER_S))
    law = draw_law(rng, kind, days)
    answered = starts[rng.random(starts.size) >= rng.uniform(0.05, 0.3)]
    rolled = answered + rng.uniform(0.0, widest, answered.size)
    local = ORIGIN_S + rng.uniform(0, days * DAY_S, int(rng.uniform(0, 0.15) * starts.size))
    spare = ORIGIN_S + rng.uniform(0, days * DAY_S, int(rng.uniform(0, 0.2) * starts.size))
    truth = np.sort(np.concatenate([rolled, local]))
    cut = np.floor if rng.random() < 0.5 else np.round
    stamps = cut((truth + law.offset_at(truth)) / step_s) * step_s
    house = np.round(np.sort(np.concatenate([starts, spare])), 3)
    return Known(kind, law, house, stamps, step_s, widest / 2 if is_delay_known else 0.0)
