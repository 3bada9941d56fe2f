"""Estimates what each machine's clock did, so that its stamps can be put on house time before any window is applied.

Start commands are on the house clock, the rolls that answer them on the machine's. From these pairs and from `clock`
lines come pieces between resets, each with an offset, a drift and a ±. The raw stamp is never lost: this module only
says by how much to move it, and moves nothing that is not certainly wrong.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.ingest.clocks.clock_evidence import Evidence, Floats, collect_evidence
from pipeline.ingest.clocks.clock_fit import Fit, fit_clock
from pipeline.ingest.clocks.clock_freezing import settle_pieces
from pipeline.ingest.clocks.clock_segments import Piece

PAIRS_TO_CORRECT = 5
NO_STOPS = np.empty(0)


@dataclass(frozen=True)
class ClockSegment:
    """A machine's clock between two resets.

    `started_s`, `ended_s` (half-open, the outermost infinite) and `reference_s` are epoch seconds on the machine's own
    clock; `pair_house_s` (command plus start delay) and `pair_machine_s` epoch seconds on either. `offset_s` is machine
    minus house at `reference_s`, the last pair, `within_s` its ± at 95 %, `drift_ppm` microseconds gained a house
    second. Without pairs these four are NaN.
    """

    started_s: float
    ended_s: float
    offset_s: float
    drift_ppm: float
    reference_s: float
    within_s: float
    pairs: int
    corrected: bool
    pair_house_s: tuple[float, ...]
    pair_machine_s: tuple[float, ...]


@dataclass(frozen=True)
class MachineClock:
    """Segments of one machine's clock, in order of that clock, without gaps; always at least one."""

    machine: str
    segments: tuple[ClockSegment, ...]

    @property
    def latest(self) -> ClockSegment:
        """The segment whose last pair is latest on house time: the one to quote for the machine. The last if none."""
        paired = [segment for segment in self.segments if segment.pairs]
        return max(paired, key=lambda segment: segment.reference_s - segment.offset_s, default=self.segments[-1])

    @property
    def pairs(self) -> int:
        """Pairs in all segments."""
        return sum(segment.pairs for segment in self.segments)


def estimate_clock(
    machine: str,
    starts_s: Floats,
    rolls_s: Floats,
    clock_stamps_s: Floats,
    clock_values_s: Floats,
    *,
    start_delay_s: float,
    stamp_resolution_s: float,
    stops_s: Floats = NO_STOPS,
) -> MachineClock:
    """What the machine's clock did, from start commands to it and its own stamps.

    `starts_s` epoch seconds on the house clock; `rolls_s`, `clock_stamps_s` and `stops_s` on the machine's;
    `clock_values_s` machine minus house in s, one for each clock stamp. Order does not matter; repeats count once;
    rolls without a command and commands without a roll are left aside. A segment is corrected with at least five pairs
    and an offset larger than its ± at the first or the last of them.

    Assumes drift below 300 ppm, a delay that varies by some tenths of a second, and that between two resets the clock
    runs forward. Between the last stamp before a reset and the first after it the cut lies half-way; a stop between
    them ends the run before the reset, for a clock is set on a machine at rest (common practice, no source).
    Some thirty days after a reset the segment that it closed rests: see clock_freezing.
    """
    evidence = collect_evidence(
        starts_s, rolls_s, clock_stamps_s, clock_values_s, start_delay_s=start_delay_s, resolution_s=stamp_resolution_s
    )
    pieces = settle_pieces(evidence)
    if not pieces:
        return MachineClock(machine, (_segment(evidence, None, -np.inf, np.inf, resolution_s=stamp_resolution_s),))
    raw = evidence.raw_s + evidence.origin_s
    stops = np.sort(stops_s[np.isfinite(stops_s)])
    cuts = [_cut(stops, float(raw[piece.last]), float(raw[piece.last + 1])) for piece in pieces[:-1]]
    edges = [-np.inf, *cuts, np.inf]
    segments = [
        _segment(evidence, piece, start, end, resolution_s=stamp_resolution_s)
        for piece, start, end in zip(pieces, edges, edges[1:], strict=False)
    ]
    return MachineClock(machine, tuple(segments))


def _cut(stops: Floats, last: float, first: float) -> float:
    """Half-way from the last stamp of one segment, or the last stop after it, to the first stamp of the next."""
    between = stops[(stops > last) & (stops < first)]
    return (float(between[-1] if between.size else last) + first) / 2


def _segment(evidence: Evidence, piece: Piece | None, start: float, end: float, *, resolution_s: float) -> ClockSegment:
    if piece is None or not piece.house_s.size:
        return ClockSegment(start, end, np.nan, np.nan, np.nan, np.nan, 0, False, (), ())
    fit = fit_clock(piece.house_s, piece.machine_s, resolution_s)
    return ClockSegment(
        started_s=start,
        ended_s=end,
        offset_s=fit.offset_s,
        drift_ppm=fit.drift * 1e6,
        reference_s=float(piece.machine_s[-1] + evidence.origin_s),
        within_s=fit.within_s,
        pairs=int(piece.house_s.size),
        corrected=_worth_correcting(piece, fit),
        pair_house_s=tuple((piece.house_s + evidence.origin_s).tolist()),
        pair_machine_s=tuple((piece.machine_s + evidence.origin_s).tolist()),
    )


def _worth_correcting(piece: Piece, fit: Fit) -> bool:
    at_first = fit.offset_s + fit.drift * float(piece.house_s[0] - piece.house_s[-1])
    return piece.house_s.size >= PAIRS_TO_CORRECT and max(abs(at_first), abs(fit.offset_s)) > fit.within_s
