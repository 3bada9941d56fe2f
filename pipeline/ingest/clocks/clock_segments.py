"""Cuts a machine's clock where it was reset, and says which track of pairs holds in each piece.

A reset shows as a jump from one track to another, or as stamps at a factory date. The cut is the cheapest way of
explaining all stamps in their order on the machine's clock: each one explained earns its votes, each change costs.
Stamps that a clock put back gives twice belong to either side; the cut then leaves the fewest of them on the wrong one.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from pipeline.ingest.clocks.clock_evidence import MAX_DRIFT, REACH_S, Evidence, Floats, Indices
from pipeline.ingest.clocks.clock_pairs import Line, find_lines, link_lines, vote_centre
from pipeline.ingest.clocks.clock_steps import find_steps

CHANGE_COST = 4.0  # votes; a reset seen in fewer than five pairs is not told from chance, and would not be corrected
FAR_OFFSET_COST = 0.03  # votes a stamp, so that a tie goes to the clock that needs no correction
CLUSTER_GAP_S = 20 * 86400.0


@dataclass(frozen=True)
class Piece:
    """Stamps `[first, last]` of the evidence between two resets, and their pairs, in seconds from the origin."""

    first: int
    last: int
    house_s: Floats
    machine_s: Floats


def cut_pieces(evidence: Evidence) -> list[Piece]:
    """Pieces in order of the machine's clock, together all stamps; a piece may have no pairs."""
    return [piece for cluster in _clusters(evidence) for piece in _cut_cluster(evidence, cluster)]


def _clusters(evidence: Evidence) -> list[Indices]:
    """Stamps among the house's times, and apart from them those of each factory date the clock fell back to."""
    raw = evidence.raw_s
    readings = ~np.isnan(evidence.reading_s)
    house = np.concatenate([evidence.starts_s, (raw - evidence.reading_s)[readings]])
    if not raw.size or not house.size:
        return [np.arange(raw.size)] if raw.size else []
    margin = REACH_S + MAX_DRIFT * float(np.ptp(house))
    among = (raw >= house.min() - margin) & (raw <= house.max() + margin)
    breaks = (np.diff(raw) > CLUSTER_GAP_S) & ~(among[1:] & among[:-1])
    return np.split(np.arange(raw.size), np.flatnonzero(breaks) + 1)


def _cut_cluster(evidence: Evidence, cluster: Indices) -> list[Piece]:
    raw, reading = evidence.raw_s[cluster], evidence.reading_s[cluster]
    pieces = _explain(Evidence(evidence.origin_s, raw, reading, evidence.starts_s, evidence.tolerance_s))
    first = int(cluster[0])
    if not pieces:
        return [Piece(first, int(cluster[-1]), raw[:0], raw[:0])]
    return [Piece(first + piece.first, first + piece.last, piece.house_s, piece.machine_s) for piece in pieces]


def _explain(evidence: Evidence) -> list[Piece]:
    """The cut by the best tracks: near the house's time, then for what that leaves, then at any distance."""
    lines: list[Line] = []
    stamps: Indices = np.arange(evidence.raw_s.size)
    path, left_over, house = np.empty(0, np.int64), np.empty((0, 0)), np.empty((0, 0))
    for anywhere in (False, False, True):
        centre = vote_centre(evidence, stamps) if anywhere and stamps.size else 0.0
        found = find_lines(evidence, stamps, centre) if stamps.size and np.isfinite(centre) else []
        if not found:
            continue
        lines += found
        tracks = link_lines(lines, evidence.tolerance_s)
        offsets = np.array([track.offset_at(evidence.raw_s) for track in tracks])
        house, left_over = map(np.array, zip(*(evidence.nearest(offset) for offset in offsets), strict=True))
        path = _cheapest_path(evidence, offsets, left_over)
        stamps = _unexplained(np.abs(left_over[path, np.arange(path.size)]) > _gate(evidence))
    if not path.size:
        return []
    edges = [0, *(np.flatnonzero(np.diff(path)) + 1).tolist(), path.size]
    pieces = (
        _piece(evidence, np.arange(start, end), house[path[start]], left_over[path[start]])
        for start, end in pairwise(edges)
    )
    return [part for piece in pieces for part in _at_steps(evidence, piece)]


def _at_steps(evidence: Evidence, piece: Piece) -> list[Piece]:
    """The piece cut where its pairs jump, each part up to its own last pair."""
    steps = find_steps(piece.house_s, piece.machine_s, evidence.tolerance_s)
    if not steps:
        return [piece]
    lasts = [int(np.searchsorted(evidence.raw_s, piece.machine_s[at - 1], side="right")) - 1 for at in steps]
    firsts = [piece.first, *(last + 1 for last in lasts)]
    pairs = pairwise([0, *steps, piece.house_s.size])
    return [
        Piece(first, last, piece.house_s[start:end], piece.machine_s[start:end])
        for first, last, (start, end) in zip(firsts, [*lasts, piece.last], pairs, strict=True)
    ]


def _cheapest_path(evidence: Evidence, offsets: Floats, left_over: Floats) -> Indices:
    """Track of each stamp (Viterbi): matched stamps earn their weight, a change of track costs CHANGE_COST."""
    earned = np.where(np.abs(left_over) <= _gate(evidence), evidence.weight[None, :], 0.0)
    earned -= FAR_OFFSET_COST * (np.abs(offsets) > 1.0 + evidence.tolerance_s)
    tracks, stamps = earned.shape
    if tracks == 1:
        return np.zeros(stamps, np.int64)
    came_from = np.empty((stamps, tracks), np.int64)
    total, stay = earned[:, 0].copy(), np.arange(tracks)
    for k in range(1, stamps):
        best = int(total.argmax())
        changed = total[best] - CHANGE_COST > total
        came_from[k] = np.where(changed, best, stay)
        total = np.where(changed, total[best] - CHANGE_COST, total) + earned[:, k]
    path = np.empty(stamps, np.int64)
    path[-1] = int(total.argmax())
    for k in range(stamps - 1, 0, -1):
        path[k - 1] = came_from[k, path[k]]
    return path


def _unexplained(missed: npt.NDArray[np.bool_], span: int = 9, share: float = 0.6) -> Indices:
    """Stamps that found no partner and stand among others that found none: a lone local start is no reset."""
    window = np.ones(span)
    crowd = np.convolve(missed, window, "same") / np.convolve(np.ones(missed.size), window, "same")
    crowd = crowd[: missed.size] if missed.size >= span else np.full(missed.size, missed.mean())
    return np.flatnonzero(missed & (crowd >= share))


def _piece(evidence: Evidence, stamps: Indices, house: Floats, left_over: Floats) -> Piece:
    """The piece with its pairs; a start that two rolls claim goes to the closer one."""
    matched = stamps[np.abs(left_over[stamps]) <= _gate(evidence)]
    closest = matched[np.argsort(np.abs(left_over[matched]), kind="stable")]
    is_roll = np.isnan(evidence.reading_s[closest])
    _, once = np.unique(house[closest[is_roll]], return_index=True)
    kept = np.sort(np.concatenate([closest[is_roll][once], closest[~is_roll]]))
    return Piece(int(stamps[0]), int(stamps[-1]), house[kept], evidence.raw_s[kept])


def _gate(evidence: Evidence) -> float:
    return 1.6 * evidence.tolerance_s
