"""Where each channel's selector is, take by take: the feed of section 3, tracked rather than believed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, permutations

from tests.second_reader.records import OTHER, STANDBY, Change, Facts, Order, Piece
from tests.second_reader.windows import air_booked, members, pieces_of


@dataclass(frozen=True)
class Stay:
    """A feed of one piece from an instant on, with the take that brought it, None where no take is known to have."""

    feed: str
    since: Change | None


@dataclass(frozen=True)
class Course:
    """The selector through one piece: the feed it starts with, then every take inside in order."""

    piece: Piece
    first: Stay
    changes: tuple[Change, ...]
    stays: tuple[Stay, ...]  # the stay after each change

    def at(self, instant: int) -> Stay:
        """Return the stay in force at an instant of the piece, takes of that stamp included."""
        passed = sum(c.at <= instant for c in self.changes)
        return self.stays[passed - 1] if passed else self.first


def in_chain(takes: Sequence[Order], anchor: str | None) -> list[Order]:
    """Return takes of one stamp in the order in which each `from_machine` follows the last `to_machine`.

    The order with most such links counts; of several the first by (from, to, reason). An empty from follows anything.
    """

    def words(order: list[Order]) -> list[tuple[str, str, str]]:
        return [(o.source or "", o.to, o.reason or "") for o in order]

    def broken(order: list[Order]) -> int:
        before = [anchor, *(o.to for o in order)]
        return sum(o.source is not None and o.source != last for o, last in zip(order, before, strict=False))

    orders = [list(order) for order in permutations(takes)]
    return min(orders, key=lambda order: (broken(order), words(order)))


def takes_on(facts: Facts, channel: str) -> list[Order]:
    """Return the channel's takes by stamp; those of equal stamp are in no order yet."""
    return [o for o in facts.orders if o.channel == channel and o.action == "take"]


def _by_stamp(takes: Sequence[Order]) -> Iterator[list[Order]]:
    for _, group in groupby(takes, key=lambda o: o.at):
        yield list(group)


def _follow(stay: Stay, order: Order) -> tuple[Change, Stay]:
    change = Change(order.at, stay.feed or None, order.to, order.reason)
    return change, (stay if stay.feed == order.to else Stay(order.to, change))


def _first_feed(facts: Facts, piece: Piece, last: Stay | None, last_take: int) -> Stay:
    """Where the last take left the selector, if that still counts at the piece's start; else the air-booked machine."""
    if last is not None:
        lead = facts.rules.lead
        fresh = piece.start - last_take <= lead
        in_programme_before = any(
            p.channel == piece.channel and p.start <= last_take < p.end and piece.start - lead <= p.end <= piece.start
            for p in pieces_of(facts)
        )
        fits = last.feed in members(facts, piece, piece.start) | {STANDBY, OTHER}
        if (fresh or in_programme_before) and fits:
            return last
    return Stay(air_booked(facts, piece, piece.start), None)


def _through(piece: Piece, first: Stay, takes: Sequence[Order]) -> Course:
    changes: list[Change] = []
    stays: list[Stay] = []
    now = first
    for group in _by_stamp(takes):
        for order in in_chain(group, now.feed):
            if not changes and order.source is not None and order.source != now.feed:
                now = first = Stay(order.source, None)  # the first take names another source: that one fed until then
            change, now = _follow(now, order)
            changes.append(change)
            stays.append(now)
    return Course(piece, first, tuple(changes), tuple(stays))


def _outside(last: Stay | None, takes: Sequence[Order]) -> Stay | None:
    for group in _by_stamp(takes):
        for order in in_chain(group, last.feed if last else None):
            _, last = _follow(last or Stay(order.source or "", None), order)
    return last


@lru_cache(maxsize=1_000)
def courses_of(facts: Facts) -> tuple[Course, ...]:
    """Return the selector's course through every piece, by channel and start."""
    found: list[Course] = []
    for channel in sorted({p.channel for p in pieces_of(facts)}):
        takes, last, last_take = takes_on(facts, channel), None, 0
        for piece in (p for p in pieces_of(facts) if p.channel == channel):
            before = [o for o in takes if o.at < piece.start]
            last = _outside(last, before)
            last_take = before[-1].at if before else last_take
            inside = [o for o in takes if piece.start <= o.at < piece.end]
            course = _through(piece, _first_feed(facts, piece, last, last_take), inside)
            found.append(course)
            takes = [o for o in takes if o not in before and o not in inside]
            if inside:
                last, last_take = course.stays[-1], inside[-1].at
    return tuple(found)
