"""The plain records the second reader passes around, so that its steps agree on what a row and a span are.

Every instant and every length is a whole number of microseconds; instants count from 1970-01-01 UTC.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

STANDBY = "standby"
OTHER = "other"
SECOND = 1_000_000
EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - rows carry naive UTC


def micros(at: datetime) -> int:
    """Return the whole microseconds from 1970-01-01 to a naive UTC time."""
    return (at - EPOCH) // timedelta(microseconds=1)


def length(seconds: float) -> int:
    """Return a length given in seconds as whole microseconds."""
    return round(seconds * SECOND)


@dataclass(frozen=True)
class Rules:
    """The limits of section 1; the tolerance stays in seconds, as offsets do."""

    lead: int
    carry: int
    silence: int
    tail: int
    merge_gap: int
    tolerance_s: float


@dataclass(frozen=True)
class Event:
    """One line of a machine's log."""

    at: int
    machine: str
    event: str
    value: float | None
    detail: str | None


@dataclass(frozen=True)
class Order:
    """One row of the switches feed: a take, or a remote start."""

    at: int
    action: str
    channel: str
    source: str | None
    to: str
    reason: str | None


@dataclass(frozen=True)
class Booking:
    """One booking of one machine."""

    booking: str
    transmission: str | None
    channel: str | None
    machine: str
    role: str
    starts: int
    ends: int


@dataclass(frozen=True, eq=False)
class Facts:
    """All that was kept after loading, typed and in order of time."""

    events: tuple[Event, ...]
    orders: tuple[Order, ...]
    bookings: tuple[Booking, ...]
    pairs: Mapping[str, str | None]
    rules: Rules
    as_of: int | None
    not_air: tuple[tuple[str, int, int], ...] = ()  # channel, from, up to: what a person ruled to be no air

    def is_not_air(self, channel: str, at: int) -> bool:
        """Whether an instant on a channel was ruled to be no air."""
        return any(where == channel and start <= at < end for where, start, end in self.not_air)


@dataclass(frozen=True)
class Piece:
    """What a stretch of a transmission keeps of its time on a channel; `end` is cut at the data-as-of time."""

    channel: str
    transmission: str
    start: int
    end: int
    booked_end: int
    stretch_start: int
    stretch_end: int

    @property
    def cut(self) -> bool:
        """Whether the data-as-of time cut the piece short."""
        return self.end < self.booked_end


@dataclass(frozen=True)
class Change:
    """One take as the tracked selector lived through it: `left` is what really fed, not what the row says."""

    at: int
    left: str | None
    to: str
    reason: str | None


@dataclass(frozen=True)
class Verdict:
    """The state at one instant and what it rests on."""

    state: str
    why: str | None
    elsewhere: bool
    covering: frozenset[str]


@dataclass(frozen=True)
class Interval:
    """A stretch of one piece in which nothing changes; verdict is None while the feed is on `other`."""

    piece: Piece
    start: int
    end: int
    feed: str
    verdict: Verdict | None

    @property
    def state(self) -> str | None:
        """The state, None while off air."""
        return self.verdict.state if self.verdict else None


def _text(value: Any) -> str | None:
    return None if value is None or value == "" else str(value)


def rules_of(settings: Mapping[str, Any]) -> Rules:
    """Return the limits, with the defaults of section 1 for what is not set."""

    def pick(key: str, default: float) -> float:
        value = settings.get(key)
        return float(default if value is None else value)

    return Rules(
        lead=length(pick("lead_s", 600)),
        carry=length(pick("carry_s", 14400)),
        silence=length(pick("silence_s", 180)),
        tail=length(pick("tail_s", 15)),
        merge_gap=length(pick("merge_gap_s", 1.0)),
        tolerance_s=pick("sync_tolerance_s", 1 / pick("frame_rate", 25)),
    )


def facts_of(
    events: Iterable[Mapping[str, Any]],
    switches: Iterable[Mapping[str, Any]],
    bookings: Iterable[Mapping[str, Any]],
    machines: Iterable[Mapping[str, Any]],
    settings: Mapping[str, Any],
    rulings: Iterable[Mapping[str, Any]] = (),
) -> Facts:
    """Return the rows typed; of rulings those on what is no air.

    The data-as-of time is the latest stamp in events or switches, None without any.
    """
    logged = [Event(micros(r["at"]), r["machine"], r["event"], r.get("value"), _text(r.get("detail"))) for r in events]
    orders = [
        Order(micros(r["at"]), r["action"], r["channel"], _text(r.get("from_machine")), r["to_machine"],
              _text(r.get("reason")))
        for r in switches
    ]  # fmt: skip
    booked = [
        Booking(str(r["booking"]), _text(r.get("transmission")), _text(r.get("channel")), r["machine"], r["role"],
                micros(r["starts"]), micros(r["ends"]))
        for r in bookings
    ]  # fmt: skip
    stamps = [e.at for e in logged] + [o.at for o in orders]
    return Facts(
        events=tuple(sorted(logged, key=lambda e: e.at)),
        orders=tuple(sorted(orders, key=lambda o: o.at)),
        bookings=tuple(booked),
        pairs={r["machine"]: _text(r.get("pair")) for r in machines},
        rules=rules_of(settings),
        as_of=max(stamps, default=None),
        not_air=tuple(
            (r["channel"], micros(r["at"]), micros(r["until"]))
            for r in rulings
            if r["rules"] == "not air" and r["at"] < r["until"]
        ),
    )
