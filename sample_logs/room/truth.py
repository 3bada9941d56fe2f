"""What truly happened on air, as each scene states it while it writes its log lines. Nothing here reads a log."""

from __future__ import annotations

from dataclasses import dataclass, field

Time = tuple[int, bool]  # milliseconds, and whether the end was seen


@dataclass(frozen=True)
class Span:
    """A stretch of air time in one state. `machine` is None for standby; `why` only splits exposed time."""

    channel: str
    transmission: str
    start: int
    end: int
    machine: str | None
    state: str
    why: str = ""
    elsewhere: bool = False


@dataclass(frozen=True)
class Beside:
    """Time outside air time that is shown beside it: rescued or overrun."""

    kind: str
    channel: str
    start: int
    end: int
    machine: str


@dataclass(frozen=True)
class Interruption:
    """One interruption. `machine` is None where it began on standby."""

    channel: str
    start: int
    end: int
    lost: int
    machine: str | None
    demand: bool = True
    met: bool = False
    healed: bool = False
    unprotected: bool = False


@dataclass(frozen=True)
class Switch:
    """One change of feed between machines of a transmission."""

    channel: str
    at: int
    source: str
    to: str
    kind: str


@dataclass(frozen=True)
class Rescue:
    """A rescue by another source that is a demand of its own."""

    channel: str
    at: int
    machine: str


@dataclass
class Recovery:
    """The times of one interruption or protect switch; None where a time does not apply."""

    channel: str
    at: int
    machine: str | None
    to_air: Time | None = None
    to_take: Time | None = None
    to_cover: Time | None = None
    to_service: Time | None = None
    ticket: str = ""


@dataclass(frozen=True)
class Oddity:
    """Something out of the ordinary, for the README: which scene, where, when, and its numbers."""

    scene: str
    at: int
    where: str
    what: str


@dataclass
class Truth:
    """Everything that the figures are added up from."""

    spans: list[Span] = field(default_factory=list)
    beside: list[Beside] = field(default_factory=list)
    interruptions: list[Interruption] = field(default_factory=list)
    switches: list[Switch] = field(default_factory=list)
    rescues: list[Rescue] = field(default_factory=list)
    recoveries: list[Recovery] = field(default_factory=list)
    oddities: list[Oddity] = field(default_factory=list)
