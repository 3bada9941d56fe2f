"""What a simulation says: a claim on a share of simulated rooms, what was seen, and whether the two agree.

Every section of the benchmark returns claims made here, so that all of them allow for the same simulation error.
"""

import math
from dataclasses import dataclass

ERRORS = 3.0  # simulation errors allowed: an honest claim is refused about once in 370


@dataclass(frozen=True)
class Claim:
    """One claim on a share, and the share seen.

    Attributes:
        what: the claim in one sentence, without the share.
        rooms: simulated rooms counted, 1 or more.
        share: share of them in which it came true, 0 to 1.
        expected: what is claimed, in words: "at least 0.95", "0.93 to 0.97", "at most 0.05", "0.62 (exact power)".
        low: the share less three simulation errors.
        high: the share and three simulation errors.
        holds: whether the claim lies within those, in whole or in part.

    """

    what: str
    rooms: int
    share: float
    expected: str
    low: float
    high: float
    holds: bool


def claim_at_least(what: str, hits: int, rooms: int, level: float) -> Claim:
    """Claim that the share is `level` or more: exact limits promise it, which may cover too often, never too seldom."""
    return _make_claim(what, hits, rooms, _Promise(f"at least {level:.3g}", level, 1.0))


def claim_at_most(what: str, hits: int, rooms: int, level: float) -> Claim:
    """Claim that the share is `level` or less: what a test promises of its false alarms."""
    return _make_claim(what, hits, rooms, _Promise(f"at most {level:.3g}", 0.0, level))


def claim_between(what: str, hits: int, rooms: int, low: float, high: float) -> Claim:
    """Claim that the share lies from `low` to `high`, both included: what limits that are approximate are held to."""
    return _make_claim(what, hits, rooms, _Promise(f"{low:.3g} to {high:.3g}", low, high))


def claim_exactly(what: str, hits: int, rooms: int, level: float) -> Claim:
    """Claim that the share is `level`, neither less nor more: exact limits of what is not a count promise that."""
    return _make_claim(what, hits, rooms, _Promise(f"exactly {level:.3g}", level, level))


def claim_near(what: str, hits: int, rooms: int, value: float) -> Claim:
    """Claim that the share is `value`, a power worked out exactly and without the simulation."""
    return _make_claim(what, hits, rooms, _Promise(f"{value:.3g} (exact power)", value, value))


@dataclass(frozen=True)
class _Promise:
    words: str
    low: float
    high: float


def _make_claim(what: str, hits: int, rooms: int, promise: _Promise) -> Claim:
    """Hold the share against the promise.

    Raises:
        ValueError: no rooms, hits outside 0 to `rooms`, or a promise that is no range within 0 to 1.

    """
    if not 0 <= hits <= rooms or rooms < 1:
        raise ValueError(f"{hits} of {rooms} rooms is no share")
    if not 0.0 <= promise.low <= promise.high <= 1.0:
        raise ValueError(f"{promise.low} to {promise.high} is no range of shares")
    low, high = _find_simulation_limits(int(hits), int(rooms))
    holds = low <= promise.high and promise.low <= high
    return Claim(what, int(rooms), int(hits) / int(rooms), promise.words, low, high, holds)


def _find_simulation_limits(hits: int, rooms: int) -> tuple[float, float]:
    """Give the shares that lie within three simulation errors of the share seen.

    A share p is within them where |seen − p| ≤ 3 √(p (1 − p) / rooms). Solved for p, so that the limits do not shrink
    to nothing where every room, or none, came true; elsewhere they are the share ± 3 √(share (1 − share) / rooms) to
    the digits shown.

    Reference:
        Wilson (1927), J. Am. Stat. Assoc. 22, 209–212.

    """
    share, squared = hits / rooms, ERRORS**2 / rooms
    centre = (share + squared / 2) / (1 + squared)
    half = math.sqrt(squared * (share * (1 - share) + squared / 4)) / (1 + squared)
    return max(0.0, centre - half), min(1.0, centre + half)
