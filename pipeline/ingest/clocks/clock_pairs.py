"""Finds which start command belongs to which roll when the clock in between is not to be trusted.

The nearest start is the wrong one as soon as a clock is further out than the gap between two starts. So every
difference roll − start inside a short run of rolls votes, straight lines through the votes are kept as candidates, and
candidates of neighbouring runs that continue each other are one track. No run looks at more starts than lie within
REACH_S, so that memory grows with the number of rolls only.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pipeline.ingest.clocks.clock_evidence import MAX_DRIFT, REACH_S, READING_WEIGHT, Evidence, Floats, Indices

RUN_LENGTH = 16  # long enough to outvote chance, short enough that few runs straddle a reset
RUNS_AT_MOST = 128
RUNS_AT_LEAST = 32
POINTS_IN_ALL = 2_000_000  # differences looked at in one search; where starts are dense, fewer runs stand for all
CANDIDATES_AT_MOST = 6
VOTES_AT_LEAST = 4
POINTS_AT_MOST = 48  # in one straight-line search, which looks at every pair of points


@dataclass(frozen=True)
class Line:
    """Offset, machine minus house, along one run of stamps: straight between its two ends. Seconds."""

    from_s: float
    to_s: float
    offset_from_s: float
    offset_to_s: float
    votes: float

    @property
    def drift(self) -> float:
        """Seconds gained a second."""
        return (self.offset_to_s - self.offset_from_s) / (self.to_s - self.from_s) if self.to_s > self.from_s else 0.0


@dataclass
class Track:
    """Lines that continue one another, in order of the machine's clock."""

    lines: list[Line] = field(default_factory=list)

    def offset_at(self, raw_s: Floats) -> Floats:
        """Offset at stamps in s: straight between the lines' ends, and on along the whole track's drift outside."""
        first, last = self.lines[0], self.lines[-1]
        at = np.array([end for line in self.lines for end in (line.from_s, line.to_s)])
        offset = np.array([end for line in self.lines for end in (line.offset_from_s, line.offset_to_s)])
        inside: Floats = np.interp(raw_s, at, offset)
        drift = Line(first.from_s, last.to_s, first.offset_from_s, last.offset_to_s, 0.0).drift
        outside: Floats = np.minimum(raw_s - at[0], 0.0) + np.maximum(raw_s - at[-1], 0.0)
        return inside + drift * outside

    def votes(self) -> float:
        """Votes of all its lines."""
        return sum(line.votes for line in self.lines)


def find_lines(evidence: Evidence, stamps: Indices, centre_s: float) -> list[Line]:
    """Candidate lines of the runs that `stamps` (indices into the evidence) fall into, within REACH_S of a centre."""
    runs = np.array_split(stamps, max(1, -(-stamps.size // RUN_LENGTH)))
    at_most = _runs_at_most(evidence)
    if len(runs) > at_most:
        runs = [runs[k] for k in np.linspace(0, len(runs) - 1, at_most).astype(int)]
    votes_at_least = min(VOTES_AT_LEAST, max(2, evidence.raw_s.size // 2))
    lines: list[Line] = []
    for run in runs:
        raw, difference = _differences(evidence, run, centre_s)
        if raw.size >= votes_at_least:
            lines += _lines_of_run(raw, difference, votes_at_least, tolerance_s=evidence.tolerance_s, centre_s=centre_s)
    return lines


def link_lines(lines: list[Line], tolerance_s: float, at_most: int = 24) -> list[Track]:
    """Tracks, strongest first; a line joins the track it continues best, else it opens one."""
    tracks: list[Track] = []
    for line in sorted(lines, key=lambda line: (line.from_s, -line.votes, abs(line.offset_from_s))):
        misses = [_miss(track.lines[-1], line, tolerance_s) for track in tracks]
        best = int(np.argmin(misses)) if misses else -1
        if misses and misses[best] <= 1.0:
            tracks[best].lines.append(line)
        else:
            tracks.append(Track([line]))
    return sorted(tracks, key=lambda track: -track.votes())[:at_most]


def vote_centre(evidence: Evidence, stamps: Indices, *, seeds: int = 5, run_length: int = 24) -> float:
    """The offset most differences agree on, at any distance, for stamps of a clock at a factory date; NaN if none."""
    readings = evidence.reading_s[stamps]
    if np.any(~np.isnan(readings)):
        return float(np.nanmedian(readings))
    if not evidence.starts_s.size:
        return np.nan
    best_votes, best = max(VOTES_AT_LEAST, int(0.4 * min(run_length, stamps.size))), np.nan
    last = max(0, stamps.size - run_length)
    for first in np.unique(np.linspace(0, last, seeds).astype(int)):
        raw = evidence.raw_s[stamps[first : first + run_length]]
        difference = np.sort((raw[:, None] - evidence.starts_s[None, :]).ravel())
        width = 2 * evidence.tolerance_s + MAX_DRIFT * float(raw[-1] - raw[0])
        count = _count_within(difference, width)
        if count.size and count.max() > best_votes:
            best_votes, best = int(count.max()), float(difference[int(np.argmax(count))] + width / 2)
    return best


def _runs_at_most(evidence: Evidence) -> int:
    if evidence.starts_s.size < RUN_LENGTH:
        return RUNS_AT_MOST
    within_reach = evidence.starts_s.size * min(1.0, 2 * REACH_S / float(np.ptp(evidence.starts_s)))
    return int(np.clip(POINTS_IN_ALL / (RUN_LENGTH * within_reach), RUNS_AT_LEAST, RUNS_AT_MOST))


def _differences(evidence: Evidence, run: Indices, centre_s: float) -> tuple[Floats, Floats]:
    """Every roll − start within reach, one point each, and every reading READING_WEIGHT times."""
    raw, reading = evidence.raw_s[run], evidence.reading_s[run]
    rolls = raw[np.isnan(reading)]
    low = np.searchsorted(evidence.starts_s, rolls - centre_s - REACH_S)
    high = np.searchsorted(evidence.starts_s, rolls - centre_s + REACH_S, side="right")
    count = high - low
    within = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    rolls = np.repeat(rolls, count)
    difference = rolls - evidence.starts_s[np.repeat(low, count) + within]
    known = ~np.isnan(reading)
    return (
        np.concatenate([rolls, np.repeat(raw[known], READING_WEIGHT)]),
        np.concatenate([difference, np.repeat(reading[known], READING_WEIGHT)]),
    )


def _lines_of_run(
    raw: Floats, difference: Floats, votes_at_least: int, *, tolerance_s: float, centre_s: float
) -> list[Line]:
    order = np.argsort(difference, kind="stable")
    raw, difference = raw[order], difference[order]
    width = 2 * tolerance_s + MAX_DRIFT * float(raw.max() - raw.min())
    count = _count_within(difference, width)
    # Of two equally good offsets the smaller is the likelier: programmes start on the hour.
    score = count - 0.5 * np.abs(difference + width / 2 - centre_s) / REACH_S
    enough = max(float(votes_at_least), 0.5 * float(count.max()))
    lines: list[Line] = []
    while len(lines) < CANDIDATES_AT_MOST:
        at = int(np.argmax(score))
        if score[at] < enough - 1.0 or count[at] < votes_at_least:
            break
        inside = slice(at, at + int(count[at]))
        lines.append(_best_line(raw[inside], difference[inside], tolerance_s))
        score[np.abs(difference - difference[at]) <= width] = -np.inf
    return [line for line in lines if line.votes >= votes_at_least]


def _best_line(raw: Floats, difference: Floats, tolerance_s: float) -> Line:
    """The line through two of the points that has most points close to it, moved to their median."""
    if raw.size > POINTS_AT_MOST:
        kept = np.linspace(0, raw.size - 1, POINTS_AT_MOST).astype(int)
        raw, difference = raw[kept], difference[kept]
    one, other = np.triu_indices(raw.size, 1)
    apart = raw[other] - raw[one]
    slope = np.divide(difference[other] - difference[one], apart, out=np.zeros_like(apart), where=apart != 0)
    slope = np.clip(slope, -MAX_DRIFT, MAX_DRIFT)
    middle = (difference[one] + difference[other] - slope * (raw[one] + raw[other])) / 2
    miss = np.abs(difference[None, :] - middle[:, None] - slope[:, None] * raw[None, :]) / tolerance_s
    best = int(np.argmax(np.maximum(0.0, 1.0 - miss * miss).sum(axis=1)))
    near = miss[best] <= 1.0
    drift = float(slope[best])
    level = float(np.median(difference[near] - drift * raw[near])) if near.any() else float(middle[best])
    start, end = float(raw.min()), float(raw.max())
    return Line(start, end, level + drift * start, level + drift * end, float(np.count_nonzero(near)))


def _miss(before: Line, after: Line, tolerance_s: float) -> float:
    """How far apart two lines are half-way between them, in units of what their drifts leave open; above 1: not one."""
    gap = after.from_s - before.to_s
    if gap < 0:
        return np.inf
    apart = abs((before.offset_to_s + before.drift * gap / 2) - (after.offset_from_s - after.drift * gap / 2))
    spans = [max(line.to_s - line.from_s, 1.0) for line in (before, after)]
    unsure = min(sum(tolerance_s / span for span in spans) * gap / 2, MAX_DRIFT * gap)
    return apart / (2 * tolerance_s + unsure)


def _count_within(ordered: Floats, width: float) -> Floats:
    """For each value, how many lie in [value, value + width]."""
    return (np.searchsorted(ordered, ordered + width, side="right") - np.arange(ordered.size)).astype(np.float64)
