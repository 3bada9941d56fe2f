"""What goes on in the room between transmissions: maintenance, recordings, and tickets about neither."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from random import Random

from sample_logs.room.casting import Casting
from sample_logs.room.instants import DAY, HOUR, MINUTE, SECOND
from sample_logs.room.logbook import Booking, Logbook
from sample_logs.room.plant import FAST_BY_MS, FAST_CLOCK, MACHINES, PAIR_OF, PAIRS
from sample_logs.room.schedule import AS_OF
from sample_logs.room.truth import Oddity, Truth
from sample_logs.room.words import ticket_words

MARGIN = 100 * MINUTE


@dataclass
class Gap:
    """A time in which a machine has nothing to do with a transmission, margins taken off."""

    start: int
    end: int


def fill_background(casting: Casting, book: Logbook, truth: Truth) -> None:
    """Write maintenance, recordings and idle tickets into gaps of at least four hours."""
    random = Random("background")
    for number, machine in enumerate(MACHINES):
        gaps = _gaps(casting, machine)
        for gap in gaps[2 + number :: 19]:
            _maintain(book, random, machine, gap)
    for pair in ("P1", "P2"):
        for gap in _gaps(casting, PAIRS[pair][0])[5::31]:
            _record(book, random, PAIRS[pair], gap)
    for number, machine in enumerate(MACHINES):
        _idle_ticket(casting, book, truth, machine, random=random, skip=number)


def _gaps(casting: Casting, machine: str) -> list[Gap]:
    """The gaps of a machine's pair."""
    busy = sorted(
        (slot.start, slot.end)
        for slot in casting.slots
        if any(PAIR_OF[name] == PAIR_OF[machine] for name in (*slot.machines, *filter(None, [slot.spare])))
    )
    gaps = [Gap(a[1] + MARGIN, b[0] - MARGIN) for a, b in pairwise(busy)]
    return [gap for gap in gaps if gap.end - gap.start > 4 * HOUR - 2 * MARGIN + HOUR and gap.end < AS_OF - HOUR]


def _maintain(book: Logbook, random: Random, machine: str, gap: Gap) -> None:
    starts = gap.start // MINUTE * MINUTE
    book.book(Booking("", "", "", "", "", "", machine, "maintenance", starts, starts + HOUR))
    at = starts + random.randint(5 * MINUTE, 20 * MINUTE)
    if random.random() < 0.35:
        book.log(machine, at, "head_fitted", detail=f"H{random.randint(300, 999)}")
    else:
        book.log(machine, at, "part_fitted", detail=random.choice(("guide", "pump belt", "preamp board", "lamp 24 V")))
    book.log(machine, at + 25 * MINUTE, "lineup")
    if machine == FAST_CLOCK:
        book.log(machine, at + 30 * MINUTE, "clock", f"{FAST_BY_MS / 1000:.3f}")
    elif machine == "VT1":
        book.log(machine, at + 30 * MINUTE, "clock", "0.000")


def _record(book: Logbook, random: Random, pair: tuple[str, str], gap: Gap) -> None:
    """A recording on both machines of a pair, started by hand."""
    starts = gap.start // MINUTE * MINUTE
    for machine, role in zip(pair, ("record", "record_protect"), strict=True):
        book.book(Booking("", "", "", "recording", "", "", machine, role, starts, starts + 40 * MINUTE))
        at = starts + random.randint(2 * MINUTE, 3 * MINUTE)
        book.log(machine, at, "roll")
        book.log(machine, at + 3400, "lock")
        book.log(machine, at + 20 * SECOND, "record_on")
        book.log(machine, at + 30 * MINUTE, "record_off")
        book.log(machine, at + 30 * MINUTE + 2 * SECOND, "stop")


def _idle_ticket(casting: Casting, book: Logbook, truth: Truth, machine: str, *, random: Random, skip: int) -> None:
    """A ticket that no event is near enough to explain."""
    events = casting.events[PAIR_OF[machine]]
    days = range(3 + 9 * skip, 80)
    opened = next(
        at
        for at in (casting.slots[0].start // HOUR * HOUR + day * DAY for day in days)
        if all(not (-2 * HOUR < at - event < 28 * HOUR) for event in events)
    )
    restored = opened + random.randint(1, 9) * HOUR
    closed = opened - HOUR if machine == "VT2" else restored + HOUR
    written = book.ticket(machine, opened, restored, closed, **ticket_words(random, "idle"))
    what = f"ticket {written.ticket} on {machine} is of no event"
    truth.oddities.append(Oddity("ticket without an event", opened, machine, what))
    if closed < opened:
        truth.oddities.append(Oddity("closed before opened", opened, machine, f"ticket {written.ticket}"))
