"""Switches of section 4: changes of feed inside a piece from one machine of the transmission to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tests.second_reader import machines
from tests.second_reader.machines import GOOD, NOT_GOOD
from tests.second_reader.records import OTHER, STANDBY, Change, Facts, Piece
from tests.second_reader.states import Told, told
from tests.second_reader.windows import air_booked, members

STATED = {
    "planned": "planned", "rehearsal": "planned", "return": "return", "precaution": "precaution", "fault": "forced",
}  # fmt: skip
PROTECT = ("forced", "precaution", "unexplained")


@dataclass(frozen=True)
class Switch:
    """One switch, timed at its first take; `last_take` is the take that reached the new machine."""

    channel: str
    transmission: str
    at: int
    source: str
    to: str
    kind: str
    last_take: int
    piece: Piece

    @property
    def protect(self) -> bool:
        """Whether it is a protect switch."""
        return self.kind in PROTECT


def _chains(changes: Sequence[Change]) -> list[list[Change]]:
    """Return the takes of each move from machine to machine, by way of standby or not; by way of `other` is none."""
    chains: list[list[Change]] = []
    open_chain: list[Change] = []
    for change in changes:
        if change.left not in (STANDBY, OTHER, None):
            open_chain = [change]  # leaves a machine
        elif change.left == STANDBY and open_chain:
            open_chain = [*open_chain, change]
        else:
            open_chain = []
        if change.to == OTHER:
            open_chain = []
        elif change.to != STANDBY and open_chain:
            chains.append(open_chain)
            open_chain = []
    return chains


def _kind(facts: Facts, piece: Piece, chain: Sequence[Change]) -> str:
    stated = [c.reason for c in chain if c.reason]
    if stated:
        return STATED[stated[0]]
    at, source, to = chain[0].at, str(chain[0].left), chain[-1].to
    own = machines.standing(facts, source, piece.stretch_start, at)
    if own == NOT_GOOD:
        return "forced"
    if own == GOOD and machines.open_alarms(facts, source, at):
        return "precaution"
    both_good = own == GOOD and machines.standing(facts, to, piece.stretch_start, at) == GOOD
    if both_good and to == air_booked(facts, piece, at):
        return "return"
    return "unexplained"


def _switch(facts: Facts, piece: Piece, chain: Sequence[Change]) -> Switch | None:
    first, last = chain[0], chain[-1]
    source, to = str(first.left), last.to
    both = source in members(facts, piece, first.at) and to in members(facts, piece, last.at)
    ruled_out = facts.is_not_air(piece.channel, first.at) or facts.is_not_air(piece.channel, last.at)
    if source == to or not both or ruled_out:
        return None
    kind = _kind(facts, piece, chain)
    return Switch(piece.channel, piece.transmission, first.at, source, to, kind, last.at, piece)


def _of_piece(facts: Facts, one: Told) -> list[Switch]:
    inside = [c for c in one.course.changes if c.at < one.end]  # the tail rule may have ended the piece early
    found = [_switch(facts, one.piece, chain) for chain in _chains(inside)]
    return [s for s in found if s is not None]


def switches_of(facts: Facts) -> list[Switch]:
    """Return every switch, by channel and order of takes."""
    return [s for one in told(facts) for s in _of_piece(facts, one)]
