"""The five states of air time, instant by instant, and what lies beside it: air from elsewhere, rescues, overruns."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from tests.second_reader import machines
from tests.second_reader.machines import GOOD, IN_STEP, NOT_GOOD, NOT_KNOWN, NOT_PROVED
from tests.second_reader.records import OTHER, STANDBY, Facts, Interval, Piece, Verdict
from tests.second_reader.selector import Course, courses_of, takes_on
from tests.second_reader.windows import members, pieces_of


@dataclass(frozen=True)
class Told:
    """One piece as it went: its intervals, and where it really ended (earlier than booked by the tail rule)."""

    course: Course
    intervals: tuple[Interval, ...]
    end: int
    away: tuple[Interval, ...]  # feed on `other`, also where it was ruled to be no air

    @property
    def piece(self) -> Piece:
        """The piece told of."""
        return self.course.piece

    def ending_at(self, at: int) -> Interval | None:
        """Return the interval that ends at an instant."""
        return next((i for i in self.intervals if i.end == at), None)

    def starting_at(self, at: int) -> Interval | None:
        """Return the interval that holds from an instant on."""
        return next((i for i in self.intervals if i.start <= at < i.end), None)


def judge(facts: Facts, piece: Piece, feed: str, at: int) -> Verdict:
    """Return the state at one instant, feed on a machine or on standby."""
    none: frozenset[str] = frozenset()
    if feed == STANDBY:
        return Verdict("lost", None, False, none)
    of_it = members(facts, piece, at)
    elsewhere = feed not in of_it
    own = machines.standing(facts, feed, piece.stretch_start, at)
    if own != GOOD:
        return Verdict("lost" if own == NOT_GOOD else "unknown", None, elsewhere, none)
    if elsewhere:
        return Verdict("exposed", "none booked", True, none)
    return _protection(facts, piece, feed, at)


def _protection(facts: Facts, piece: Piece, feed: str, at: int) -> Verdict:
    """Return the state while a good machine of the transmission feeds: it hangs on the others alone."""
    none: frozenset[str] = frozenset()
    of_it = members(facts, piece, at) - {feed}
    others = {m: machines.standing(facts, m, piece.stretch_start, at) for m in of_it}
    steps = {m: machines.step(facts, feed, m, at) for m, word in others.items() if word == GOOD}
    covering = frozenset(m for m, step in steps.items() if step == IN_STEP)
    if covering:
        return Verdict("covered", None, False, covering)
    if NOT_KNOWN in others.values() or NOT_PROVED in steps.values():
        return Verdict("unproved", None, False, none)
    if not others:
        return Verdict("exposed", "none booked", False, none)
    return Verdict("exposed", "out of step" if steps else "not good", False, none)


def _breakpoints(facts: Facts, piece: Piece) -> list[int]:
    stamps = {piece.start, piece.end}
    stamps |= {e.at for e in facts.events} | {e.at + facts.rules.silence for e in facts.events}
    stamps |= {o.at for o in facts.orders}
    for b in facts.bookings:
        stamps |= {b.starts - facts.rules.lead, b.starts, b.ends}
    for channel, start, end in facts.not_air:
        stamps |= {start, end} if channel == piece.channel else set()
    return sorted(s for s in stamps if piece.start <= s <= piece.end)


def _intervals(facts: Facts, course: Course) -> list[Interval]:
    points = _breakpoints(facts, course.piece)
    found = []
    for start, end in pairwise(points):
        feed = course.at(start).feed
        verdict = None if feed == OTHER else judge(facts, course.piece, feed, start)
        found.append(Interval(course.piece, start, end, feed, verdict))
    return found


def _begins_with_stop(facts: Facts, course: Course, at: int) -> bool:
    """Whether the source feeding at that stamp, before or after its takes, stopped at it."""
    before = [c.left for c in course.changes if c.at == at][:1]
    feeding = {*before, course.at(at).feed}
    return any(e.event == "stop" and e.at == at and e.machine in feeding for e in facts.events)


def _planned_standby(course: Course, at: int) -> bool:
    last = [c for c in course.changes if c.at == at][-1:]
    return any(c.to == STANDBY and c.reason == "planned" for c in last)


def _real_end(facts: Facts, course: Course, intervals: list[Interval]) -> int:
    """Where the piece ended: lost air that begins in the last tail_s with a stop or planned standby, and lasts."""
    piece = course.piece
    start = piece.end
    for interval in reversed(intervals):
        if interval.state != "lost":
            break
        start = interval.start
    late = start >= piece.booked_end - facts.rules.tail
    if piece.cut or start == piece.end or not late:
        return piece.end
    early = _begins_with_stop(facts, course, start) or _planned_standby(course, start)
    return start if early else piece.end


@lru_cache(maxsize=1_000)
def told(facts: Facts) -> tuple[Told, ...]:
    """Return every piece with its states, by channel and start."""
    found = []
    for course in courses_of(facts):
        everything = _intervals(facts, course)
        intervals = [i for i in everything if not facts.is_not_air(course.piece.channel, i.start)]
        end = _real_end(facts, course, intervals)
        away = tuple(i for i in everything if i.feed == OTHER and i.end <= end)
        found.append(Told(course, tuple(i for i in intervals if i.end <= end), end, away))
    return tuple(found)


@dataclass(frozen=True)
class RescuedSpan:
    """Air from another source after lost air or by a fault take; machine is the one left, None for standby."""

    channel: str
    transmission: str
    started: int
    ended: int
    machine: str | None
    taken_at: int
    unprotected: bool
    stay_start: int  # where the stay on `other` began, earlier than `started` where that was ruled to be no air


def _rescued(facts: Facts, one: Told, stay: list[Interval]) -> list[RescuedSpan]:
    """Return the parts of a stay that are a rescue, without what was ruled to be no air."""
    stay_start = stay[0].start
    since = one.course.at(stay_start).since
    before = one.ending_at(stay_start)
    after_lost = before is not None and before.state == "lost"
    if since is None or not (after_lost or since.reason == "fault"):
        return []
    machine = since.left if since.left not in (STANDBY, OTHER) else None
    piece = one.piece
    spans: list[tuple[int, int]] = []
    for i in (i for i in stay if not facts.is_not_air(piece.channel, i.start)):
        start = spans.pop()[0] if spans and spans[-1][1] == i.start else i.start
        spans.append((start, i.end))
    return [
        RescuedSpan(
            piece.channel, piece.transmission, start, end, machine, since.at,
            not members(facts, piece, start) - {machine}, stay_start,
        )
        for start, end in spans
    ]  # fmt: skip


def rescued_spans(facts: Facts) -> list[RescuedSpan]:
    """Return the stays on `other` that count as rescues, piece by piece."""
    found = []
    for one in told(facts):
        for first in (i for i in one.away if not any(j.end == i.start for j in one.away)):
            stay = [first]
            while following := [i for i in one.away if i.start == stay[-1].end]:
                stay += following
            found += _rescued(facts, one, stay)
    return found


def _good_until(facts: Facts, machine: str, start: int, limit: int) -> int:
    """Where a machine good at `start` first is not, or its last word grows too old, or the limit."""
    rules = facts.rules
    hold = rules.silence if machines.ever_logs(facts, machine, "alive") else rules.carry
    lines = [e.at for e in machines.lines_of(facts, machine)]
    at = start
    while at < limit:
        word = max((s for s in lines if s <= at), default=None)
        if word is None or machines.condition(facts, machine, at).word != GOOD or at >= word + hold:
            return at
        at = min([limit, word + hold, *(s for s in lines if s > at)])
    return limit


def overrun_span(facts: Facts, one: Told) -> tuple[str, int, int] | None:
    """Return (machine, start, end) of the feed that goes on past a piece, None without any."""
    piece, before = one.piece, one.ending_at(one.piece.end)
    if piece.cut or facts.as_of is None or before is None or before.state not in ("covered", "unproved", "exposed"):
        return None
    stops = [facts.as_of]
    stops += [o.at for o in takes_on(facts, piece.channel) if o.at >= piece.end]
    stops += [p.start for p in pieces_of(facts) if p.channel == piece.channel and p.start >= piece.end]
    end = _good_until(facts, before.feed, piece.end, min(stops))
    return (before.feed, piece.end, end) if end > piece.end else None


def cover_of(facts: Facts) -> tuple[dict[str, int], dict[str, int]]:
    """Return, by machine, the microseconds it covered and the times its cover was lost with nothing else changed."""
    covered: dict[str, int] = {}
    losses: dict[str, int] = {}
    for one in told(facts):
        for i in one.intervals:
            for m in i.verdict.covering if i.verdict else ():
                covered[m] = covered.get(m, 0) + i.end - i.start
        for left, right in pairwise(one.intervals):
            for m in _cover_lost(facts, one.piece, left, right):
                losses[m] = losses.get(m, 0) + 1
    return covered, losses


def _cover_lost(facts: Facts, piece: Piece, left: Interval, right: Interval) -> list[str]:
    if not left.verdict or left.state != "covered" or right.state not in ("unproved", "exposed"):
        return []  # lost and unknown: the feeding machine did not stay good
    if left.feed != right.feed or left.end != right.start:
        return []
    at = right.start

    def still_there(m: str) -> bool:  # its booking ended, but it ran on in step: no loss of its own
        fine = machines.standing(facts, m, piece.stretch_start, at) == GOOD
        return fine and machines.step(facts, right.feed, m, at) == IN_STEP

    return [m for m in left.verdict.covering if not still_there(m)]


def unprotected_at(facts: Facts, piece: Piece, machine: str | None, at: int) -> bool:
    """Whether the transmission has no other machine than this one at an instant."""
    return not members(facts, piece, at) - {machine}
