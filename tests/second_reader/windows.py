"""Whose time it is on a channel, and which machines are of the transmission that has it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from tests.second_reader.records import OTHER, STANDBY, Booking, Facts, Order, Piece


@dataclass(frozen=True)
class Stretch:
    """Air bookings of one transmission on one channel that touch or overlap, as one window."""

    channel: str
    transmission: str
    start: int
    end: int


def _stretches(facts: Facts) -> list[Stretch]:
    found: list[Stretch] = []
    air = [b for b in facts.bookings if b.role == "air"]
    for channel, transmission in sorted({(str(b.channel), str(b.transmission)) for b in air}):
        spans = sorted((b.starts, b.ends) for b in air if (b.channel, b.transmission) == (channel, transmission))
        start, end = spans[0]
        for starts, ends in spans[1:]:
            if starts > end:
                found.append(Stretch(channel, transmission, start, end))
                start, end = starts, ends
            end = max(end, ends)
        found.append(Stretch(channel, transmission, start, end))
    return found


def _whole_pieces(stretches: list[Stretch]) -> list[Piece]:
    edges = sorted({s.start for s in stretches} | {s.end for s in stretches})
    pieces: list[Piece] = []
    for left, right in pairwise(edges):
        here = [s for s in stretches if s.start <= left < s.end]
        if not here:
            continue
        has_it = max(here, key=lambda s: (s.start, s.transmission))  # the later start has the time
        last = pieces[-1] if pieces else None
        start = left
        if last and last.end == left and (last.transmission, last.stretch_start) == (has_it.transmission, has_it.start):
            start = pieces.pop().start
        pieces.append(Piece(has_it.channel, has_it.transmission, start, right, right, has_it.start, has_it.end))
    return pieces


@lru_cache(maxsize=1_000)
def pieces_of(facts: Facts) -> tuple[Piece, ...]:
    """Return the pieces by channel and start, cut at the data-as-of time; what begins at or after it is left out."""
    if facts.as_of is None:
        return ()
    stretches = _stretches(facts)
    found: list[Piece] = []
    for channel in sorted({s.channel for s in stretches}):
        for p in _whole_pieces([s for s in stretches if s.channel == channel]):
            if p.start < facts.as_of:
                end = min(p.end, facts.as_of)
                found.append(Piece(p.channel, p.transmission, p.start, end, p.end, p.stretch_start, p.stretch_end))
    return tuple(found)


def _holds(facts: Facts, booking: Booking, at: int) -> bool:
    return booking.role in ("air", "protect") and booking.starts - facts.rules.lead <= at < booking.ends


def booked(facts: Facts, piece: Piece, at: int) -> set[str]:
    """Return the machines air or protect booked to the piece's transmission at this instant, lead_s included."""
    unit = (piece.channel, piece.transmission)
    return {b.machine for b in facts.bookings if (b.channel, b.transmission) == unit and _holds(facts, b, at)}


def _booked_to_another(facts: Facts, piece: Piece, machine: str, at: int) -> bool:
    return any(
        b.machine == machine and b.transmission != piece.transmission and _holds(facts, b, at) for b in facts.bookings
    )


def _fed_over(facts: Facts, piece: Piece, machine: str, at: int) -> bool:
    """Whether the programme before on this channel has just ended, and the machine was booked to it or named in it."""
    recent = [
        p
        for p in pieces_of(facts)
        if p.channel == piece.channel and p.transmission != piece.transmission and at - facts.rules.lead <= p.end <= at
    ]
    named = any(
        machine in (o.to, o.source if o.action == "take" else None)
        and o.channel == p.channel
        and p.start <= o.at < p.end
        and not _booked_to_another(facts, p, machine, o.at)
        for p in recent
        for o in facts.orders
    )
    return named or any(
        b.machine == machine
        and b.role in ("air", "protect")
        and b.channel == piece.channel
        and b.transmission != piece.transmission
        and at - facts.rules.lead <= b.ends <= at
        for b in facts.bookings
    )


def _orders_in_stretch(facts: Facts, piece: Piece, until: int) -> list[Order]:
    own = [
        p
        for p in pieces_of(facts)
        if (p.channel, p.transmission, p.stretch_start) == (piece.channel, piece.transmission, piece.stretch_start)
    ]
    return [
        o
        for o in facts.orders
        if o.channel == piece.channel and o.at <= until and any(p.start <= o.at < p.end for p in own)
    ]


@lru_cache(maxsize=50_000)
def joined(facts: Facts, piece: Piece, at: int) -> frozenset[str]:
    """Return the machines that a take or start inside the window has named by this instant and so made members."""
    orders = _orders_in_stretch(facts, piece, at)
    inside: set[str] = set()
    for stamp in sorted({o.at for o in orders}):
        now = [o for o in orders if o.at == stamp]
        reached = {o.to for o in now} - {STANDBY, OTHER}
        left = {o.source for o in now if o.action == "take" and o.source} - {STANDBY, OTHER}
        inside |= {m for m in reached if not _booked_to_another(facts, piece, m, stamp)}
        of_it = inside | booked(facts, piece, stamp)
        for m in left:
            programme_change = m not in of_it and _fed_over(facts, piece, m, stamp)
            if not _booked_to_another(facts, piece, m, stamp) and not programme_change:
                inside.add(m)
    return frozenset(inside)


def members(facts: Facts, piece: Piece, at: int) -> set[str]:
    """Return the machines of the piece's transmission at this instant."""
    return booked(facts, piece, at) | joined(facts, piece, at)


def air_booked(facts: Facts, piece: Piece, at: int) -> str:
    """Return the machine the transmission's air booking names at this instant; of several the later start, then id.

    Raises ValueError when none does, which inside a piece cannot be.
    """
    unit = (piece.channel, piece.transmission)
    here = [
        b for b in facts.bookings if b.role == "air" and (b.channel, b.transmission) == unit and b.starts <= at < b.ends
    ]
    return max(here, key=lambda b: (b.starts, b.booking)).machine
