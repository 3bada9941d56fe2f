"""The bookings of the second room before anything goes wrong: two series, and single transmissions around them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from sample_logs.foreign.house import DOUBLED_HOUR, FIRST_DAY, LAST_DAY, TITLES
from sample_logs.room.instants import DAY, HOUR, MINUTE, as_utc, local
from sample_logs.room.schedule import Reel, Slot

P3, P4 = ("VT5", "VT6"), ("VT8", "VT7")
MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = range(7)


@dataclass(frozen=True)
class Series:
    """A programme that comes again and again on the same machines.

    `left_out` has the days that were never booked, `moved` those with another time, `called_off` those cancelled.
    """

    title: str
    channel: str
    days: tuple[int, ...]
    starts_min: int
    length_min: int
    machines: tuple[str, str]
    left_out: date | None = None
    moved: tuple[date, int] | None = None
    called_off: date | None = None

    def occurrences(self, last: date) -> Iterator[tuple[date, int, int]]:
        """Day, start as the rule has it and start as played, of each occurrence that is not left out or called off."""
        for day in days_until(last):
            if day.weekday() in self.days and day not in {self.left_out, self.called_off}:
                ruled = local(day, self.starts_min)
                is_moved = self.moved is not None and self.moved[0] == day
                yield day, ruled, local(day, self.moved[1]) if is_moved and self.moved else ruled


EVENING = Series(
    "Kvällsrundan", "One", (MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY), 18 * 60 + 30, 30, P3,
    left_out=date(2031, 10, 17), moved=(date(2031, 10, 22), 19 * 60 + 15), called_off=date(2031, 10, 28),
)  # fmt: skip
SUNDAYS = Series("Söndagsmusik från ladan", "Two", (SUNDAY,), 20 * 60, 75, P4)
EVENING_ENDS = date(2031, 10, 31)
CALENDAR_ENDS = LAST_DAY + timedelta(days=7)  # Sundays have no end; one more is shown that is not played yet


@dataclass
class Sending(Slot):
    """A transmission of the second room; an occurrence of a series knows when its rule would have it."""

    title: str = ""
    episode: int = 0
    series: Series | None = None
    ruled: int = 0

    @property
    def transmission(self) -> str:
        """The transmission's name: a number, or the series' title and the start that its rule gives, in UTC."""
        return f"{self.title} {self.turn}" if self.series else f"S{self.number:03d}"

    @property
    def turn(self) -> str:
        """Which occurrence of its series it is: the start by the rule, in UTC, as RFC 5545 writes it."""
        return f"{as_utc(self.ruled):%Y%m%dT%H%M%SZ}"


def days_until(last: date) -> Iterator[date]:
    """Every day of the room up to `last`."""
    return (FIRST_DAY + timedelta(days=k) for k in range((last - FIRST_DAY).days + 1))


def write_days(random: Random) -> list[Sending]:
    """Every transmission in order of time, numbered from 1."""
    slots = [*_series(EVENING, EVENING_ENDS), *_series(SUNDAYS, CALENDAR_ENDS - timedelta(days=1)), *_nights()]
    for day in days_until(LAST_DAY):
        slots += _singles(day, random)
    slots.sort(key=lambda slot: (slot.start, slot.channel))
    counted = dict.fromkeys(TITLES, 0)
    single = [title for title in TITLES if title not in {EVENING.title, SUNDAYS.title}]
    for number, slot in enumerate(slots, start=1):
        slot.number = number
        slot.title = slot.title or random.choice(single)
        counted[slot.title] += 1
        slot.episode = TITLES[slot.title] + counted[slot.title] - 1
    return slots


def _series(series: Series, last: date) -> list[Sending]:
    made = []
    for day, ruled, start in series.occurrences(last):
        slot = _slot(day, series.channel, start, series.length_min, series.machines)
        slot.title, slot.series, slot.ruled = series.title, series, ruled
        made.append(slot)
    return made


def _nights() -> list[Sending]:
    """One night over the doubled hour, and one over the end of the month."""
    doubled = _slot(date(2031, 10, 25), "One", DOUBLED_HOUR - 20 * MINUTE, 150, P3[::-1])
    month = _slot(date(2031, 10, 31), "Two", local(date(2031, 11, 1), 5 * 60 + 15), 80, P4)
    doubled.scene, month.scene = "over_the_doubled_hour", "over_the_month"
    return [doubled, month]


def _singles(day: date, random: Random) -> list[Sending]:
    made = []
    if day.weekday() != SUNDAY and day != date(2031, 11, 1):
        made.append(_slot(day, "Two", local(day, 8 * 60 + 5 * random.randrange(5)), random.choice((30, 45)), P4))
    if day.weekday() in {MONDAY, WEDNESDAY, FRIDAY, SUNDAY}:
        made.append(_slot(day, "One", local(day, 12 * 60 + 30), random.choice((30, 45, 60)), _turned(P3, random)))
    if day.weekday() in {TUESDAY, THURSDAY, SATURDAY}:
        made.append(_slot(day, "Two", local(day, 20 * 60), 40, P4, and_then=(_turned(P3, random), 30)))
    if day.weekday() == SATURDAY:
        made.append(_slot(day, "One", local(day, 15 * 60), 35, P3, and_then=(P4, 30)))
    if day.weekday() == MONDAY and day < LAST_DAY:
        made.append(_slot(day, "One", local(day, 19 * 60), 35, P4))
    return made


def _turned(pair: tuple[str, str], random: Random) -> tuple[str, str]:
    """Air and protect machine; three times in ten the other way about."""
    return pair[::-1] if random.random() < 0.3 else pair


def _slot(
    day: date,
    channel: str,
    start: int,
    length_min: int,
    pair: tuple[str, str],
    *,
    and_then: tuple[tuple[str, str], int] | None = None,
) -> Sending:
    middle = end = start + length_min * MINUTE
    reels = [Reel(start, middle, *pair)]
    if and_then:
        end = middle + and_then[1] * MINUTE
        reels.append(Reel(middle, end, *and_then[0]))
    return Sending(0, day, channel, start, end, tuple(reels))


def join(slots: list[Sending]) -> None:
    """Let a transmission that begins where another ends on its channel be taken there and then, once a little late."""
    for before in slots:
        for after in slots:
            if after.start == before.end and after.channel == before.channel:
                is_late = after.day == date(2031, 10, 20)
                before.closing, after.opening = "change", "late change" if is_late else "change"
                before.next_air = after.reels[0].air


def settle_quiet(slots: list[Sending], random: Random) -> None:
    """Let some transmissions begin without a take, where the channel was long quiet."""
    ended: dict[str, int] = {}
    for slot in slots:
        quiet = slot.start - ended.get(slot.channel, slot.start - DAY)
        if slot.opening == "take" and quiet > HOUR and random.random() < 0.12:
            slot.opening = "quiet"
        ended[slot.channel] = slot.end
