"""Rooms of a few lines for cases worked by hand: seconds in, seconds out, second 0 an invented morning."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from tests.second_reader.reader import Reading, read_room
from tests.second_reader.records import SECOND, micros

BASE = datetime(2031, 3, 12, 10)  # noqa: DTZ001 - rows carry naive UTC
LIMITS = {
    "frame_rate": 25, "lead_s": 20, "carry_s": 60, "silence_s": 10, "tail_s": 5, "merge_gap_s": 1.0,
}  # fmt: skip


def stamp(second: float) -> datetime:
    return BASE + timedelta(seconds=second)


def seconds(instant: int) -> float:
    """Return an instant of the reading as seconds after second 0."""
    return (instant - micros(BASE)) / SECOND


@dataclass
class Tiny:
    """A room under construction. Channel ONE and transmission T1 unless told otherwise."""

    events: list[dict[str, Any]] = field(default_factory=list)
    switches: list[dict[str, Any]] = field(default_factory=list)
    bookings: list[dict[str, Any]] = field(default_factory=list)
    machines: list[dict[str, Any]] = field(default_factory=list)

    def log(self, at: float, machine: str, *words: str, value: float | None = None, detail: str | None = None) -> Tiny:
        """Add lines of one stamp."""
        for word in words:
            self.events.append({"at": stamp(at), "machine": machine, "event": word, "value": value, "detail": detail})
        return self

    def take(self, at: float, source: str | None, to: str, reason: str | None = None, *, action: str = "take") -> Tiny:
        self.switches.append({
            "at": stamp(at), "action": action, "channel": "ONE", "from_machine": source, "to_machine": to,
            "reason": reason,
        })  # fmt: skip
        return self

    def book(self, machine: str, role: str, starts: float, ends: float, transmission: str = "T1") -> Tiny:
        self.bookings.append({
            "booking": f"K{len(self.bookings)}", "transmission": transmission, "channel": "ONE", "machine": machine,
            "role": role, "starts": stamp(starts), "ends": stamp(ends),
        })  # fmt: skip
        return self

    def ready(self, at: float, *machines: str) -> Tiny:
        """Roll and lock machines at one stamp."""
        for machine in machines:
            self.log(at, machine, "roll", "lock")
        return self

    def read(self, until: float | None = 200, **limits: Any) -> Reading:
        """Read the room; a line of a machine that is booked nowhere ends the data."""
        events = list(self.events)
        if until is not None:
            events.append({"at": stamp(until), "machine": "Z9", "event": "hours", "value": 1.0, "detail": None})
        return read_room(events, self.switches, self.bookings, self.machines, LIMITS | limits)


def pair() -> Tiny:
    """A1 on air and A2 protect in 0–100, both rolling and locked at −10, in step by an offset of 0.02 s at −8."""
    room = Tiny().book("A1", "air", 0, 100).book("A2", "protect", 0, 100).ready(-10, "A1", "A2")
    return room.log(-8, "A1", "offset", value=0.02, detail="A2")


def states(reading: Reading) -> list[tuple[float, float, str, str, str | None]]:
    """Return the air spans as (start, end, feed, state, why)."""
    return [(seconds(s.started), seconds(s.ended), s.feed, s.state, s.exposed_why) for s in reading.air]


def kinds(reading: Reading) -> list[tuple[float, str, str, str]]:
    """Return the switches as (at, from, to, kind)."""
    return [(seconds(s.at), s.source, s.to, s.kind) for s in reading.switches]
