"""Lets a closed stretch of a machine's clock rest: what is learnt later than some thirty days on does not move it.

The record is looked through from its beginning, four times a year at what had been said by then. A stretch that a reset
had closed thirty days before, and that enough pairs bear out, is taken as it is seen then, and what follows is cut
without it. Nothing but the record decides when these looks are, so that it is all one in how many loads it came; and
what is added at its end cannot reach further back than the last look.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256

import numpy as np

from pipeline.ingest.clocks.clock_evidence import Evidence, Floats
from pipeline.ingest.clocks.clock_segments import Piece, cut_pieces

DAY_S = 86400.0
REST_S = 30 * DAY_S  # from the end of a stretch until it may rest
LOOK_S = 90 * DAY_S  # from look to look
LOOKED_BACK_S = 150 * DAY_S  # what ended before that rested at an earlier look, and a month shows what ran on into it
PAIRS_AT_LEAST = 5  # as for a correction: with fewer it is open what the clock did


class Looks:
    """Looks that found nothing to rest, each known again by all that it saw, so that none has to be taken twice."""

    def __init__(self) -> None:
        self._known: set[str] = set()
        self._used: set[str] = set()

    def begin(self, known: Iterable[str]) -> None:
        """Take over what an earlier load knew."""
        self._known, self._used = set(known), set()

    def used(self) -> list[str]:
        """Those asked for or noted since the beginning, in order."""
        return sorted(self._used)

    def is_idle(self, digest: str) -> bool:
        """Whether the look is known to have found nothing."""
        if digest in self._known:
            self._used.add(digest)
        return digest in self._known

    def note_idle(self, digest: str) -> None:
        """That it found nothing."""
        self._known.add(digest)
        self._used.add(digest)


LOOKS = Looks()


def settle_pieces(evidence: Evidence) -> list[Piece]:
    """Pieces as `cut_pieces` gives them, in order of the machine's clock, those that rest found with less to go by.

    A clock that fell back to a factory date, or stands years off, has stamps far from any start command. Such stamps
    tell nothing of when they were made, so that for such a machine no stretch is ever taken for closed.
    """
    if not evidence.raw_s.size or not _is_among_starts(evidence):
        return cut_pieces(evidence)
    settled: list[Piece] = []
    low = 0
    for look_s in _looks(evidence):
        closed = _closed_by(evidence, low, look_s)
        if closed > low:
            settled += _cut(evidence, low, closed, look_s)
            low = closed
    return settled + _cut(evidence, low, evidence.raw_s.size, np.inf)


def _is_among_starts(evidence: Evidence) -> bool:
    """Whether every stamp lies in the time of the start commands, or a month from it."""
    raw, starts = evidence.raw_s, evidence.starts_s
    return bool(starts.size and raw[0] >= starts[0] - REST_S and raw[-1] <= starts[-1] + REST_S)


def _looks(evidence: Evidence) -> list[float]:
    """Every ninety days of all time, as far as the record goes, in seconds from the origin."""
    first, last = float(evidence.raw_s[0]), float(evidence.raw_s[-1])
    into = evidence.origin_s % LOOK_S
    numbers = range(int((first + into) // LOOK_S) + 1, int((last + into) // LOOK_S) + 1)
    return [number * LOOK_S - into for number in numbers]


def _closed_by(evidence: Evidence, low: int, look_s: float) -> int:
    """Up to which stamp the stretches after `low` rest at this look; `low` where none does."""
    begun = max(low, int(np.searchsorted(evidence.raw_s, look_s - LOOKED_BACK_S)))
    until = int(np.searchsorted(evidence.raw_s, look_s, side="right"))
    digest = _digest(evidence, begun, until, look_s)
    if until - begun < 2 * PAIRS_AT_LEAST or LOOKS.is_idle(digest):
        return low
    closed = low
    for piece in _cut(evidence, begun, until, look_s)[:-1]:
        if piece.house_s.size < PAIRS_AT_LEAST or evidence.raw_s[piece.last] > look_s - REST_S:
            break
        closed = piece.last + 1
    if closed == low:
        LOOKS.note_idle(digest)
    return closed


def _digest(evidence: Evidence, begun: int, until: int, look_s: float) -> str:
    """One word for all that a look sees."""
    seen = sha256(repr((evidence.origin_s, evidence.tolerance_s, look_s)).encode())
    for times in (evidence.raw_s[begun:until], evidence.reading_s[begun:until], _starts(evidence, look_s)):
        seen.update(b"%d," % times.size)
        seen.update(times.tobytes())
    return seen.hexdigest()


def _starts(evidence: Evidence, look_s: float) -> Floats:
    return evidence.starts_s[: int(np.searchsorted(evidence.starts_s, look_s, side="right"))]


def _cut(evidence: Evidence, low: int, high: int, look_s: float) -> list[Piece]:
    """The pieces of stamps `[low, high)`, by the start commands up to the look."""
    part = Evidence(
        evidence.origin_s,
        evidence.raw_s[low:high],
        evidence.reading_s[low:high],
        _starts(evidence, look_s),
        evidence.tolerance_s,
    )
    pieces = cut_pieces(part) if part.raw_s.size else []
    return [Piece(low + each.first, low + each.last, each.house_s, each.machine_s) for each in pieces]
