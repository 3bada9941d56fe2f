"""The three months of bookings: which transmission is on which channel and machines, before anything goes wrong."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from sample_logs.room.instants import MINUTE, as_local, local
from sample_logs.room.plant import GROUPS, PAIRS, other_pair

FIRST_DAY = date(2031, 2, 1)
LAST_DAY = date(2031, 4, 30)
AS_OF = local(LAST_DAY, 20 * 60 + 50) + 412  # the last line of any log
MONTH_CROSSED = (date(2031, 2, 28), date(2031, 3, 31))  # broadcast days whose night runs into the next month
CLOCK_CHANGE = date(2031, 3, 29)  # the broadcast day whose night loses an hour
HALF_HOURS = (30, 45, 50, 60, 75, 90, 110, 120)


@dataclass(frozen=True)
class Reel:
    """A reel's part of a transmission: who plays it to air and who protects it."""

    start: int
    end: int
    air: str
    protect: str  # empty: none booked


@dataclass
class Slot:
    """One transmission as booked. `joined_to` is the number of the slot that begins where this one ends."""

    number: int
    day: date
    channel: str
    start: int
    end: int
    reels: tuple[Reel, ...]
    opening: str = "take"  # take, quiet, change, early change, late change, continue
    closing: str = "standby"  # standby, change, continue
    scene: str = "plain"
    programme: str = ""  # an episode of the catalogue; the scene may ask for one
    spare: str = ""  # a free machine, or one that is on another channel, where the scene needs it
    next_air: str = ""  # the machine that the joined slot begins on
    moment: int = 0  # when it is to happen, where that is settled beforehand
    join: str = ""  # how it follows the one before, for the README
    booked_end: int = 0  # where the bookings run on past the end
    quiet_before: int = 0  # since the channel's last transmission ended

    @property
    def transmission(self) -> str:
        """The transmission's name."""
        return f"TX{self.number:04d}"

    @property
    def machines(self) -> tuple[str, ...]:
        """Every machine booked."""
        return tuple(name for reel in self.reels for name in (reel.air, reel.protect) if name)


def write_schedule(random: Random) -> list[Slot]:
    """Every transmission in order of time, numbered from 1."""
    slots: list[Slot] = []
    turn = {"One": 0, "Two": 0, "Night": 0}
    for k in range((LAST_DAY - FIRST_DAY).days + 1):
        day = FIRST_DAY + timedelta(days=k)
        for channel in GROUPS:
            slots += _day_of_channel(random, day, channel, turn)
        if day in MONTH_CROSSED or day == CLOCK_CHANGE or k % 3 == 1:
            slots.append(_night(random, day, turn))
    slots.sort(key=lambda slot: (slot.start, slot.channel))
    for number, slot in enumerate(slots, start=1):
        slot.number = number
    _measure_quiet(slots)
    for slot in slots:
        if slot.opening == "take" and slot.quiet_before > 20 * MINUTE and random.random() < 0.1:
            slot.opening = "quiet"
    return slots


def _day_of_channel(random: Random, day: date, channel: str, turn: dict[str, int]) -> list[Slot]:
    late = day - timedelta(days=1) in MONTH_CROSSED
    last_evening = {"One": 20 * 60, "Two": 17 * 60 + 30}[channel] if day == LAST_DAY else None
    slots = []
    for earliest in (9 * 60 if late else 7 * 60, 12 * 60 + 30, last_evening or 18 * 60 + 30):
        begins = earliest + 5 * random.randrange(13) * (last_evening is None)
        length = random.choice(HALF_HOURS) if last_evening is None else 90
        turn[channel] += 1
        pair = GROUPS[channel][turn[channel] % 2]
        slots.append(_slot(random, day, channel, begins, length=length, pair=pair, one_reel=last_evening is not None))
    if last_evening is None and random.random() < 0.3:
        evening = slots[-1]
        if len(evening.reels) == 1:
            turn[channel] += 1
            slots.append(_joined(random, day, evening, GROUPS[channel][turn[channel] % 2]))
    return slots


def _joined(random: Random, day: date, before: Slot, pair: str) -> Slot:
    """A transmission that follows without a gap, on the other pair."""
    wall = as_local(before.end)
    begins = wall.hour * 60 + wall.minute
    after = _slot(random, day, before.channel, begins, length=random.choice((30, 45, 60)), pair=pair, one_reel=True)
    before.closing, after.opening = "change", "change"
    before.next_air = after.reels[0].air
    return after


def _night(random: Random, day: date, turn: dict[str, int]) -> Slot:
    turn["Night"] += 1
    pair = list(PAIRS)[turn["Night"] % 4]
    begins, length = 24 * 60 + 20 + 5 * random.randrange(20), random.choice((45, 60, 90))
    if day in MONTH_CROSSED:
        begins, length = 29 * 60 + 15, 80
    if day == CLOCK_CHANGE:
        begins, length = 25 * 60 + 15, 105
    return _slot(random, day, "Night", begins, length=length, pair=pair, one_reel=True)


def _slot(
    random: Random, day: date, channel: str, begins: int, *, length: int, pair: str, one_reel: bool = False
) -> Slot:
    start = local(day, begins)
    end = start + length * MINUTE
    first = _pair(random, pair)
    if one_reel or length < 60 or random.random() < 0.45:
        return Slot(0, day, channel, start, end, (Reel(start, end, *first),))
    middle = start + random.randint(length * 9 // 20, length * 11 // 20) * MINUTE
    second = _pair(random, other_pair(pair))
    return Slot(0, day, channel, start, end, (Reel(start, middle, *first), Reel(middle, end, *second)))


def _pair(random: Random, pair: str) -> tuple[str, str]:
    """Air and protect machine; three times in ten the even one has air."""
    odd, even = PAIRS[pair]
    return (even, odd) if random.random() < 0.3 else (odd, even)


def _measure_quiet(slots: list[Slot]) -> None:
    ended: dict[str, int] = {}
    for slot in slots:
        slot.quiet_before = slot.start - ended.get(slot.channel, slot.start - 24 * 60 * MINUTE)
        ended[slot.channel] = slot.end
