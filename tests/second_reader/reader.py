"""A second, slow and plain reading of sections 3, 4 and 5, to hold the product's reading against.

It shares no code with the product. It replays every log from its first line for every instant it judges, so that each
sentence of the contract stands beside the few lines that apply it; a room of a few hundred rows is its limit. Stamps
come corrected: it knows nothing of clocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from tests.second_reader.records import OTHER, STANDBY, Facts, Interval, facts_of
from tests.second_reader.recovery import Interruption, Recovery, interruptions_of, rescue_demands, times_of
from tests.second_reader.states import RescuedSpan, Told, cover_of, overrun_span, rescued_spans, told
from tests.second_reader.switches import Switch, switches_of


@dataclass(frozen=True)
class AirSpan:
    """Air time of one piece in one state; neighbours that differ in nothing are one span. Microseconds since 1970."""

    channel: str
    transmission: str
    piece_start: int
    piece_end: int
    started: int
    ended: int
    feed: str
    state: str
    exposed_why: str | None
    elsewhere: bool

    @property
    def us(self) -> int:
        """The length in microseconds."""
        return self.ended - self.started


@dataclass(frozen=True)
class OverrunSpan:
    """Feed that went on past the end of a piece."""

    channel: str
    transmission: str
    machine: str
    started: int
    ended: int


@dataclass(frozen=True)
class Reading:
    """All that sections 3 to 5 say of a room. Instants and lengths are whole microseconds."""

    as_of: int | None
    pieces: tuple[tuple[str, str, int, int], ...]  # channel, transmission, start, real end
    air: tuple[AirSpan, ...]
    rescued: tuple[RescuedSpan, ...]
    rescue_demands: tuple[RescuedSpan, ...]
    overrun: tuple[OverrunSpan, ...]
    interruptions: tuple[Interruption, ...]
    switches: tuple[Switch, ...]
    to_take: tuple[Recovery, ...]
    to_air: tuple[Recovery, ...]
    to_cover: tuple[Recovery, ...]
    no_onset: int
    protect_us: Mapping[str, int]
    cover_losses: Mapping[str, int]

    @property
    def demands(self) -> int:
        """Interruptions that are demands, and rescues that are."""
        return sum(i.demand for i in self.interruptions) + len(self.rescue_demands)


def _span(one: Told, i: Interval) -> AirSpan | None:
    if i.verdict is None:
        return None
    p, v = i.piece, i.verdict
    return AirSpan(
        p.channel, p.transmission, p.start, one.end, i.start, i.end, i.feed, v.state, v.why, v.elsewhere
    )  # fmt: skip


def _same(left: AirSpan, right: AirSpan) -> bool:
    def key(s: AirSpan) -> tuple[Any, ...]:
        return (s.channel, s.transmission, s.piece_start, s.feed, s.state, s.exposed_why, s.elsewhere)

    return left.ended == right.started and key(left) == key(right)


def _air(facts: Facts) -> list[AirSpan]:
    found: list[AirSpan] = []
    for one in told(facts):
        for i in one.intervals:
            span = _span(one, i)
            if span is None:
                continue
            if found and _same(found[-1], span):
                span = replace(found.pop(), ended=span.ended)
            found.append(span)
    return found


def _overruns(facts: Facts) -> list[OverrunSpan]:
    found = []
    for one in told(facts):
        span = overrun_span(facts, one)
        if span:
            found.append(OverrunSpan(one.piece.channel, one.piece.transmission, *span))
    return found


def read_room(
    events: Iterable[Mapping[str, Any]],
    switches: Iterable[Mapping[str, Any]],
    bookings: Iterable[Mapping[str, Any]],
    machines: Iterable[Mapping[str, Any]],
    settings: Mapping[str, Any],
    rulings: Iterable[Mapping[str, Any]] = (),
) -> Reading:
    """Return the reading of a room given as rows kept after loading, each `at` a naive UTC datetime.

    Rows may come in any order. Missing keys, None and empty cells are all "not recorded". Settings carry the keys of
    section 1, all optional but frame_rate. Of the rulings only those on what is no air are applied.
    """
    facts = facts_of(events, switches, bookings, machines, settings, rulings)
    times = times_of(facts)
    protect_us, cover_losses = cover_of(facts)
    return Reading(
        as_of=facts.as_of,
        pieces=tuple((t.piece.channel, t.piece.transmission, t.piece.start, t.end) for t in told(facts)),
        air=tuple(_air(facts)),
        rescued=tuple(rescued_spans(facts)),
        rescue_demands=tuple(rescue_demands(facts)),
        overrun=tuple(_overruns(facts)),
        interruptions=tuple(interruptions_of(facts)),
        switches=tuple(switches_of(facts)),
        to_take=tuple(times.to_take),
        to_air=tuple(times.to_air),
        to_cover=tuple(times.to_cover),
        no_onset=times.no_onset,
        protect_us=protect_us,
        cover_losses=cover_losses,
    )


__all__ = ["OTHER", "STANDBY", "AirSpan", "OverrunSpan", "Reading", "read_room"]
