"""What hands do in the room: turn a selector, start and stop machines, read an offset, and say what is on air.

A scene says with `on` what is on air from an instant on and in which state. That statement, not the log, is the truth.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from sample_logs.room.instants import MINUTE, SECOND
from sample_logs.room.logbook import Logbook
from sample_logs.room.plant import NEVER_LOCKS
from sample_logs.room.schedule import Reel, Slot
from sample_logs.room.truth import Beside, Span, Switch, Truth


@dataclass
class Stage:
    """What lasts from one transmission to the next: the books, the truth, the selectors and the hour meters."""

    book: Logbook
    truth: Truth
    selected: dict[str, str] = field(default_factory=dict)
    hours: dict[str, int] = field(default_factory=dict)  # milliseconds run


@dataclass
class Hands:
    """The acts of one transmission in progress, and the log lines they leave."""

    stage: Stage
    slot: Slot
    random: Random
    rolling: dict[str, int] = field(default_factory=dict)  # since when
    first_line: dict[str, int] = field(default_factory=dict)
    _mark: tuple[int, str | None, str, str, bool] | None = None

    @property
    def reel(self) -> Reel:
        """The first reel; most scenes play in it."""
        return self.slot.reels[0]

    @property
    def feed(self) -> str:
        """What the channel's selector is on."""
        return self.stage.selected.get(self.slot.channel, "standby")

    def between(self, low_s: float, high_s: float) -> int:
        """A whole number of milliseconds drawn between two lengths in seconds."""
        return self.random.randint(round(low_s * SECOND), round(high_s * SECOND))

    # What is on air

    def on(self, at: int, machine: str | None, state: str, why: str = "", *, elsewhere: bool = False) -> None:
        """From `at`, this machine (None: standby) is on air in this state; what went before ends here."""
        self.off(at)
        self._mark = (at, machine, state, why, elsewhere)

    def off(self, at: int) -> None:
        """Air time ends, or stops for a while, at `at`."""
        if self._mark is not None and self._mark[0] < at:
            start, machine, state, why, elsewhere = self._mark
            span = Span(self.slot.channel, self.slot.transmission, start, at, machine, state, why, elsewhere)
            self.stage.truth.spans.append(span)
        self._mark = None

    def beside(self, kind: str, start: int, end: int, machine: str) -> None:
        """Time beside air time: rescued or overrun."""
        self.stage.truth.beside.append(Beside(kind, self.slot.channel, start, end, machine))

    # Hands on the desk

    def take(self, at: int, to: str, reason: str = "") -> None:
        """Turn the selector and write the take down."""
        self.stage.book.take(self.slot.channel, at, self.feed, to, reason=reason)
        self.stage.selected[self.slot.channel] = to

    def switch(self, at: int, to: str, kind: str, reason: str = "", *, slate: bool = False) -> None:
        """A take that is a switch of this kind; with `slate` it goes to standby first, and `to` is taken later."""
        self.stage.truth.switches.append(Switch(self.slot.channel, at, self.feed, to, kind))
        self.take(at, "standby" if slate else to, reason)

    # Hands on the machines

    def log(self, machine: str, at: int, event: str, value: str = "", *, detail: str = "") -> None:
        """Write a line of a machine's log."""
        self.first_line.setdefault(machine, at)
        self.stage.book.log(machine, at, event, value, detail=detail)

    def ready(self, machine: str, at: int) -> None:
        """Clean and line up, about 25 minutes before use."""
        self.log(machine, at + self.between(0, 90), "clean")
        self.log(machine, at + self.between(150, 380), "lineup")

    def roll(self, machine: str, at: int) -> int:
        """Start a machine by command; the instant at which it is locked (at once where no lock is ever logged)."""
        self.stage.book.start(self.slot.channel, at, machine)
        self.log(machine, at, "roll")
        self.rolling[machine] = at
        if machine == NEVER_LOCKS:
            return at
        locked = at + self.between(2.9, 4.0)
        self.log(machine, locked, "lock")
        return locked

    def halt(self, machine: str, at: int) -> None:
        """Stop a machine and read its hour meter."""
        self.log(machine, at, "stop")
        meter = self.stage.hours
        meter[machine] = meter.get(machine, 0) + at - self.rolling.pop(machine)
        self.log(machine, at + self.between(25, 50), "hours", f"{2400 + meter[machine] / (60 * MINUTE):.2f}")

    def offset(self, machine: str, at: int, thousandths: int, partner: str = "") -> None:
        """Write how far ahead of its partner a machine runs."""
        self.log(machine, at, "offset", f"{thousandths / 1000:.3f}", detail=partner)

    def prove(self, machine: str, at: int, partner: str = "") -> int:
        """Read the offset, bring the machine into step by hand, read it again; the instant of the second reading."""
        away = self.random.choice((-1, 1)) * self.random.randint(60, 250)
        self.offset(machine, at, away, partner)
        proved = at + self.between(9, 16)
        self.offset(machine, proved, self.random.randint(-30, 30), partner)
        return proved

    def proofs(self, start: int, end: int, reel: Reel | None = None) -> None:
        """The protect machine's regular readings, all in step, between two instants."""
        reel = reel or self.reel
        at = start + self.between(900, 1300)
        while reel.protect and at < end:
            self.offset(reel.protect, at, self.random.randint(-38, 38))
            at += self.between(1000, 1400)
