"""Generated rooms: small and nasty ones, and denser ones in which most things go as they should.

Everything lies on half seconds around an invented base time, with limits short enough for every rule to come into
play. No machine gets more than four start commands and none logs `clock`, so no clock is ever corrected.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, TypeVar

from hypothesis import strategies as st

from tests.second_reader.sites import Room, Row, write_site

T = TypeVar("T")
Draw = Any  # hypothesis's draw: a generic callable that has no public type

MACHINES = ("A1", "A2", "B1", "B2", "C1")
CHANNELS = ("ONE", "TWO")
REASONS = (None, None, None, "fault", "precaution", "planned", "rehearsal", "return")
MOST_STARTS = 4

# zone, broadcast day, tick 0. Local midnight or day start, ending a month, lies 30 s after tick 0 in the last three.
BASES = (
    ("UTC", "00:00", datetime(2031, 3, 12, 10)),  # noqa: DTZ001 - rows carry naive UTC
    ("UTC", "00:00", datetime(2031, 3, 31, 23, 59, 30)),  # noqa: DTZ001
    ("Europe/Stockholm", "00:00", datetime(2031, 3, 31, 21, 59, 30)),  # noqa: DTZ001
    ("Europe/Stockholm", "06:00", datetime(2031, 4, 1, 3, 59, 30)),  # noqa: DTZ001
)


@dataclass
class Draft:
    """A room while it is drawn: stamps are half-second ticks."""

    events: list[tuple[int, str, str, float | None, str | None]] = field(default_factory=list)
    orders: list[tuple[int, str, str, str | None, str, str | None]] = field(default_factory=list)
    bookings: list[tuple[str | None, str | None, str, str, int, int]] = field(default_factory=list)

    def log(self, at: int, machine: str, event: str, value: float | None = None, detail: str | None = None) -> None:
        """Add one line of a machine's log."""
        self.events.append((at, machine, event, value, detail))

    def take(self, at: int, channel: str, source: str | None, to: str, reason: str | None = None) -> None:
        """Add a take."""
        self.orders.append((at, "take", channel, source, to, reason))

    def book(self, transmission: str, channel: str, machine: str, role: str, span: tuple[int, int]) -> None:
        """Add a booking, at least one tick long."""
        self.bookings.append((transmission, channel, machine, role, span[0], max(span[0] + 1, span[1])))


@st.composite
def settings(draw: Draw) -> dict[str, Any]:
    """Draw short limits and one of the bases' zones; `base` comes with them and is taken out again."""
    zone, day, base = draw(st.sampled_from(BASES))
    return {
        "name": "Invented room",
        "timezone": zone,
        "day_starts": day,
        "frame_rate": 25,
        "sync_tolerance_s": draw(st.sampled_from([None, 0.1])),
        "lead_s": draw(st.sampled_from([10, 5, 20, 0])),
        "carry_s": draw(st.sampled_from([40, 12, 400])),
        "silence_s": draw(st.sampled_from([8, 3, 15])),
        "tail_s": draw(st.sampled_from([4, 0, 10])),
        "merge_gap_s": draw(st.sampled_from([1.0, 0.0, 0.5, 3.0])),
        "base": base,
    }


@st.composite
def registers(draw: Draw) -> tuple[Row, ...]:
    """Draw a register: pairs by a common word, by each other's name, or none at all."""
    word = {"A1": "A", "A2": "A", "B1": "B", "B2": "B", "C1": None}
    name = {"A1": "A2", "A2": "A1", "B1": "B2", "B2": "B1", "C1": None}
    pairs = draw(st.sampled_from([word, name, {}]))
    return tuple({"machine": m, "kind": "transverse", "pair": p} for m, p in pairs.items())


def _within_four_starts(orders: list[Any]) -> list[Any]:
    kept: list[Any] = []
    for order in sorted(set(orders), key=lambda o: tuple(str(cell) for cell in o)):
        started = sum(k[1] == "start" and k[4] == order[4] for k in kept)
        if order[1] == "take" or started < MOST_STARTS:
            kept.append(order)
    return kept


def finished(draft: Draft, limits: dict[str, Any], register: tuple[Row, ...]) -> Room:
    """Return the draft as a room: ticks become stamps, a row that says the same twice stays once."""
    base: datetime = limits["base"]

    def stamp(tick: int) -> datetime:
        return base + timedelta(seconds=tick / 2)

    events = sorted(set(draft.events), key=lambda e: (e[0], str(e)))
    orders = sorted(_within_four_starts(draft.orders), key=lambda o: o[0])
    return Room(
        settings={k: v for k, v in limits.items() if k != "base"},
        events=tuple(
            {"at": stamp(at), "machine": m, "event": e, "value": v, "detail": d} for at, m, e, v, d in events
        ),
        switches=tuple(
            {"at": stamp(at), "action": a, "channel": c, "from_machine": s, "to_machine": t, "reason": r}
            for at, a, c, s, t, r in orders
        ),
        bookings=tuple(
            {"booking": f"K{n:03d}", "transmission": t, "channel": c, "machine": m, "role": r, "starts": stamp(s),
             "ends": stamp(e)}
            for n, (t, c, m, r, s, e) in enumerate(dict.fromkeys(draft.bookings), start=1)
        ),
        machines=register,
    )  # fmt: skip


def _reels(draw: Draw, start: int, length: int) -> list[tuple[int, int]]:
    """Draw one reel, or two that touch, overlap or leave a gap."""
    if not draw(st.booleans()):
        return [(start, start + length)]
    turn = start + length // 2
    between = draw(st.sampled_from([0, 0, -6, 2, 12]))
    return [(start, turn), (turn + between, max(start + length, turn + between + 4))]


def _nasty_bookings(draw: Draw, draft: Draft, machines: tuple[str, ...], channels: tuple[str, ...]) -> None:
    ends = dict.fromkeys(channels, 0)
    for number in range(draw(st.integers(1, 4))):
        channel = draw(st.sampled_from(channels))
        start = max(0, ends[channel] + draw(st.sampled_from([0, 0, 4, 1, 24, -8, -30])))
        air = draw(st.sampled_from(machines))
        for span in _reels(draw, start, draw(st.sampled_from([40, 16, 7, 90]))):
            draft.book(f"T{number + 1}", channel, air, "air", span)
            for _ in range(draw(st.sampled_from([1, 1, 0, 2]))):
                edges = (span[0] + draw(st.integers(-4, 4)), span[1] + draw(st.integers(-6, 6)))
                draft.book(f"T{number + 1}", channel, draw(st.sampled_from(machines)), "protect", edges)
            air = draw(st.sampled_from([air, *machines]))
            ends[channel] = max(ends[channel], span[1])


KINDS = (
    *("roll", "lock", "offset") * 4, "stop", "unlock", "picture_lost", "picture_back", "sound_lost", "sound_back",
    "alarm", "alarm", "clear", "alive", "hours", "clean", "record_on",
)  # fmt: skip


def _detail(draw: Draw, event: str, machines: tuple[str, ...]) -> str | None:
    words: list[str | None] = [None]
    if event == "offset":
        words = [None, None, "nobody", *machines]
    if event in ("alarm", "clear"):
        words = [None, "servo", "air pressure"]
    word: str | None = draw(st.sampled_from(words))
    return word


def random_events(draw: Draw, draft: Draft, machines: tuple[str, ...], most: int) -> None:
    """Add lines in no sensible order; at most one machine logs no lock at all, and at most one logs `alive`."""
    never_locks = draw(st.sets(st.sampled_from(machines), max_size=1))
    alive = draw(st.sets(st.sampled_from(machines), max_size=1))
    lines = draw(
        st.lists(
            st.tuples(st.integers(-60, 200), st.sampled_from(machines), st.sampled_from(KINDS)),
            min_size=draw(st.integers(0, most)), max_size=most, unique=True,
        )
    )  # fmt: skip
    for at, machine, event in lines:
        if (event in ("lock", "unlock") and machine in never_locks) or (event == "alive" and machine not in alive):
            continue
        values = [0.02, -0.04, 0.1, -0.2, 0.5, None] if event == "offset" else [3.5 if event == "hours" else None]
        draft.log(at, machine, event, draw(st.sampled_from(values)), _detail(draw, event, machines))
    draft.log(draw(st.sampled_from([220, 90, 41])), machines[0], "hours", 12.0)  # where the data end, at the least


def random_orders(draw: Draw, draft: Draft, machines: tuple[str, ...], channels: tuple[str, ...], most: int) -> None:
    """Add takes that mostly follow each other, some that name a wrong source or none, and starts."""
    last: dict[str, str | None] = dict.fromkeys(channels)
    times = sorted(draw(st.lists(st.integers(-24, 200), min_size=draw(st.integers(0, most)), max_size=most)))
    for at in times:
        channel = draw(st.sampled_from(channels))
        to = draw(st.sampled_from([*machines, *machines, "standby", "other"]))
        if draw(st.integers(0, 5)) == 0:
            named = to if to in machines else machines[0]
            draft.orders.append((at, "start", channel, None, named, None))
            continue
        source = draw(st.sampled_from([last[channel], last[channel], last[channel], None, *machines, "standby"]))
        draft.take(at, channel, source, to, draw(st.sampled_from(REASONS)))
        last[channel] = to


@st.composite
def nasty_rooms(draw: Draw, most_events: int = 45, most_orders: int = 10) -> Room:
    """Draw a small room in which anything may happen in any order."""
    machines = MACHINES[: draw(st.integers(2, 5))]
    channels = CHANNELS[: draw(st.integers(1, 2))]
    draft = Draft()
    _nasty_bookings(draw, draft, machines, channels)
    for machine in machines:
        rolled = draw(st.integers(-40, 8))
        if draw(st.integers(0, 3)):
            draft.log(rolled, machine, "roll")
        if draw(st.integers(0, 3)):
            draft.log(rolled + draw(st.integers(-1, 4)), machine, "lock")
    random_events(draw, draft, machines, most_events)
    random_orders(draw, draft, machines, channels, most_orders)
    if draw(st.booleans()):
        draft.bookings.append((None, None, machines[-1], "maintenance", 10, 60))
    return finished(draft, draw(settings()), draw(registers()))


__all__ = ["BASES", "Draft", "Room", "finished", "nasty_rooms", "write_site"]
