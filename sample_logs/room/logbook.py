"""What the room writes down: the lines of every log, in the order they were made, before they are spread over files."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from sample_logs.room.plant import FAST_BY_MS, FAST_CLOCK


@dataclass(frozen=True)
class Event:
    """A line of a machine's log; `at` is what the machine's own clock showed."""

    at: int
    machine: str
    event: str
    value: str = ""
    detail: str = ""


@dataclass(frozen=True)
class Order:
    """A line of the switch log: a take, or a remote start."""

    at: int
    action: str
    channel: str
    source: str
    to: str
    reason: str
    by: str


@dataclass(frozen=True)
class Ticket:
    """A fault ticket. Times are instants or None."""

    ticket: str
    machine: str
    opened: int
    restored: int | None
    closed: int | None
    symptom: str
    cause: str = ""
    action: str = ""
    part: str = ""
    labour_hours: str = ""
    parts_cost: str = ""
    reel: str = ""
    written_by: str = ""


@dataclass(frozen=True)
class Booking:
    """A booking of one machine."""

    booking: str
    transmission: str
    channel: str
    programme: str
    show: str
    reel: str
    machine: str
    role: str
    starts: int
    ends: int


@dataclass(frozen=True)
class Hole:
    """A stretch in which a machine's log was not kept."""

    machine: str
    start: int
    end: int


@dataclass
class Logbook:
    """All that was written in the room. Lines that fall into a hole are not kept."""

    holes: list[Hole] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    orders: list[Order] = field(default_factory=list)
    tickets: list[Ticket] = field(default_factory=list)
    bookings: list[Booking] = field(default_factory=list)

    def log(self, machine: str, at: int, event: str, value: str = "", *, detail: str = "") -> None:
        """Write a line of a machine's log at a house time; the fast clock shows its own."""
        if any(hole.machine == machine and hole.start <= at < hole.end for hole in self.holes):
            return
        shown = at + FAST_BY_MS if machine == FAST_CLOCK else at
        self.events.append(Event(shown, machine, event, value, detail))

    def take(self, channel: str, at: int, source: str, to: str, *, reason: str = "", by: str = "control") -> None:
        """Write a take."""
        self.orders.append(Order(at, "take", channel, source, to, reason, by))

    def start(self, channel: str, at: int, machine: str) -> None:
        """Write a remote start command."""
        self.orders.append(Order(at, "start", channel, "", machine, "", "control"))

    def ticket(self, machine: str, opened: int, restored: int | None, closed: int | None, **words: str) -> Ticket:
        """Write a ticket under the next number and return it."""
        made = Ticket(f"F{len(self.tickets) + 1:04d}", machine, opened, restored, closed, **words)
        self.tickets.append(made)
        return made

    def book(self, booking: Booking) -> None:
        """Write a booking under the next number."""
        self.bookings.append(replace(booking, booking=f"B{len(self.bookings) + 1:05d}"))
