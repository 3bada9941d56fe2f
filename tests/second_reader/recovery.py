"""Interruptions and demands of section 4, and the times to recover of section 5."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from tests.second_reader import machines
from tests.second_reader.records import STANDBY, Facts, Piece
from tests.second_reader.states import RescuedSpan, Told, rescued_spans, told, unprotected_at
from tests.second_reader.switches import Switch, switches_of


@dataclass(frozen=True)
class Part:
    """Lost air without a break inside one piece."""

    told: Told
    start: int
    end: int


@dataclass(frozen=True)
class Interruption:
    """Lost air on a channel, parts closer than merge_gap_s joined; machine None when it began on standby."""

    channel: str
    transmission: str
    started: int
    ended: int
    lost_us: int
    machine: str | None
    demand: bool
    met: bool
    healed: bool
    unprotected: bool
    open: bool
    parts: tuple[tuple[int, int], ...] = field(repr=False)


@dataclass(frozen=True)
class Recovery:
    """One time to recover: its length, whether it was seen to its end, and the event it is counted under."""

    us: int
    observed: bool
    machine: str | None
    channel: str
    started: int


@dataclass
class Times:
    """The times to recover of all events, and how many events each does not apply to."""

    to_take: list[Recovery] = field(default_factory=list)
    to_air: list[Recovery] = field(default_factory=list)
    to_cover: list[Recovery] = field(default_factory=list)
    no_onset: int = 0


def _parts(facts: Facts) -> list[Part]:
    found: list[Part] = []
    for one in told(facts):
        for i in (i for i in one.intervals if i.state == "lost"):
            if found and found[-1].told is one and found[-1].end == i.start:
                found[-1] = Part(one, found[-1].start, i.end)
            else:
                found.append(Part(one, i.start, i.end))
    return found


def _joined(facts: Facts) -> list[list[Part]]:
    groups: list[list[Part]] = []
    for part in _parts(facts):
        last = groups[-1][-1] if groups else None
        if last and last.told.piece.channel == part.told.piece.channel:
            gap = part.start - last.end
            if gap == 0 or (gap < facts.rules.merge_gap and not _parted(facts, last, part)):
                groups[-1].append(part)
                continue
        groups.append([part])
    return groups


def _parted(facts: Facts, last: Part, part: Part) -> bool:
    """Whether anything between two parts was ruled to be no air."""
    channel = part.told.piece.channel
    return any(where == channel and start < part.start and end > last.end for where, start, end in facts.not_air)


def _landing(facts: Facts, channel: str, at: int) -> tuple[Told | None, bool]:
    """Return the piece that holds an instant, and whether a take falls on that instant inside it."""
    for one in told(facts):
        if one.piece.channel == channel and one.piece.start <= at < one.end:
            return one, any(c.at == at for c in one.course.changes)
    return None, False


def covering_before(one: Told, at: int) -> frozenset[str]:
    """Return the machines covering just before an instant of the same piece, empty when it was not covered."""
    before = one.ending_at(at)
    return before.verdict.covering if before and before.verdict else frozenset()


def _interruption(facts: Facts, parts: list[Part]) -> Interruption:
    first, last = parts[0], parts[-1]
    piece, start, end = first.told.piece, first.start, last.end
    begun = first.told.starting_at(start)
    machine = begun.feed if begun and begun.feed != STANDBY else None
    landed, taken = _landing(facts, piece.channel, end)
    demand = machine is not None
    restored_by = landed.course.at(end).feed if landed and taken else None
    after = last.told.starting_at(end) if end < last.told.end else None
    is_cut = end == last.told.end or facts.is_not_air(piece.channel, end)
    cut_short = is_cut or (not taken and after is not None and after.state == "unknown")
    return Interruption(
        channel=piece.channel,
        transmission=piece.transmission,
        started=start,
        ended=end,
        lost_us=sum(p.end - p.start for p in parts),
        machine=machine,
        demand=demand,
        met=demand and not cut_short and restored_by in covering_before(first.told, start),
        healed=demand and not taken and not cut_short,
        unprotected=demand and unprotected_at(facts, piece, machine, start),
        open=cut_short,
        parts=tuple((p.start, p.end) for p in parts),
    )


@lru_cache(maxsize=1_000)
def interruptions_of(facts: Facts) -> tuple[Interruption, ...]:
    """Return every interruption, by channel and start."""
    return tuple(_interruption(facts, parts) for parts in _joined(facts))


def rescue_demands(facts: Facts) -> list[RescuedSpan]:
    """Return the rescues that are demands of their own: one a take, where no demand's lost air ends at its start."""
    found: list[RescuedSpan] = []
    spent: set[tuple[str, int]] = set()
    for span in rescued_spans(facts):
        of_demand = any(
            i.demand and i.channel == span.channel and any(end == span.stay_start for _, end in i.parts)
            for i in interruptions_of(facts)
        )
        if not of_demand and (span.channel, span.taken_at) not in spent:
            found.append(span)
        spent.add((span.channel, span.taken_at))
    return found


@dataclass(frozen=True)
class Happening:
    """An interruption with the switch that answered it, or a protect switch alone."""

    interruption: Interruption | None
    switch: Switch | None
    machine: str | None
    started: int
    channel: str


def happenings_of(facts: Facts) -> list[Happening]:
    """Return what times to recover are read of."""
    found: list[Happening] = []
    left_over = switches_of(facts)
    for i in interruptions_of(facts):
        answers = [
            s
            for s in switches_of(facts)
            if s.channel == i.channel and i.started <= s.at <= i.ended and i.machine in (None, s.source)
        ]
        answer = answers[0] if answers else None
        machine = i.machine or (answer.source if answer else None)
        found.append(Happening(i, answer, machine, i.started, i.channel))
        left_over = [s for s in left_over if s != answer]
    found += [Happening(None, s, s.source, s.at, s.channel) for s in left_over if s.protect]
    return found


def onset_of(facts: Facts, what: Happening) -> int | None:
    """Return the start of not-good on the event's machine, else of its open alarm at the take, else None."""
    if what.machine is None:
        return None
    by_interruption = what.interruption is not None and what.interruption.machine is not None
    at = what.started if by_interruption or what.switch is None else what.switch.at
    since = machines.not_good_since(facts, what.machine, at)
    if since is not None or what.switch is None:
        return since
    return min(machines.open_alarms(facts, what.machine, what.switch.at), default=None)


def _window_end(facts: Facts, piece: Piece) -> int:
    return max(one.end for one in _same_stretch(facts, piece))


def _same_stretch(facts: Facts, piece: Piece) -> list[Told]:
    mine = (piece.channel, piece.transmission, piece.stretch_start)
    return [t for t in told(facts) if (t.piece.channel, t.piece.transmission, t.piece.stretch_start) == mine]


def _told_at(facts: Facts, what: Happening) -> Told:
    at, channel = what.started, what.channel
    return next(t for t in told(facts) if t.piece.channel == channel and t.piece.start <= at < t.end)


def _to_take(what: Happening, onset: int) -> tuple[int, bool] | None:
    if what.switch is not None:
        return what.switch.at - onset, True
    if what.interruption is not None and what.interruption.open:
        return what.interruption.ended - onset, False
    return None


def _to_cover(facts: Facts, what: Happening, onset: int) -> tuple[int, bool] | None:
    one = _told_at(facts, what)
    if not covering_before(one, what.started):
        return None
    over = what.interruption.ended if what.interruption else what.switch.last_take if what.switch else what.started
    if what.interruption:  # lost air joined across windows is looked for in the window where it ended
        last = what.interruption.parts[-1][0]
        one = next(t for t in told(facts) if t.piece.channel == what.channel and t.piece.start <= last < t.end)
    ruled = [start for where, start, _ in facts.not_air if where == what.channel and start >= what.started]
    limit = min([_window_end(facts, one.piece), *ruled])
    again = [
        max(over, i.start)
        for t in _same_stretch(facts, one.piece)
        for i in t.intervals
        if i.state == "covered" and i.end > over
    ]
    if again and min(again) < limit:
        return min(again) - onset, True
    return limit - onset, False


def times_of(facts: Facts) -> Times:
    """Return the times to recover; what the window's end cuts short is there, not observed."""
    times = Times()
    for what in happenings_of(facts):
        if what.interruption is not None:
            i = what.interruption
            times.to_air.append(Recovery(i.ended - i.started, not i.open, what.machine, i.channel, i.started))
        onset = onset_of(facts, what)
        if onset is None:
            times.no_onset += 1
            continue
        for found, kept in (
            (_to_take(what, onset), times.to_take),
            (_to_cover(facts, what, onset), times.to_cover),
        ):
            if found is not None:
                kept.append(Recovery(found[0], found[1], what.machine, what.channel, what.started))
    return times
