"""An invented room of 26 months, for pages that look back a year and more: small evenings, many of them.

Pairs A1 and A2, B1 and B2 … each play an hour on every weekday from Monday to Friday. Faults come by a seeded draw, so
that the room is the same every time; its first pair is twice as bad until a repair at the end of October 2030. Nothing
here is of a real room. python -m tests.long_room FOLDER [pairs] [calendar|broadcast] writes it.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path

FIRST, LAST = date(2029, 1, 1), date(2031, 2, 28)
REPAIR = date(2030, 10, 31)
SITE = """name = "Long room"
timezone = "Europe/Stockholm"
day_starts = "06:00"
frame_rate = 25
months = "{months}"
"""
CAUSES = (
    ("heads", "head clogged, cleaned", ""),
    ("servo", "capstan servo adjusted", ""),
    ("sound", "replaced sound preamp board", "sound preamp"),
    ("unknown", "looked, nothing found", ""),
)
FAULT, BAD = 0.09, 0.2  # chance of a fault in an hour, and of the bad pair before its repair


@dataclass
class Written:
    """Rows of each feed as they pile up."""

    events: list[str] = field(default_factory=list)
    switches: list[str] = field(default_factory=list)
    tickets: list[str] = field(default_factory=list)
    bookings: list[str] = field(default_factory=list)

    def event(self, at: datetime, machine: str, event: str, value: str = "", detail: str = "") -> None:
        self.events.append(f"{_text(at)},{machine},{event},{value},{detail}")

    def take(self, at: datetime, channel: str, machines: tuple[str, str], reason: str) -> None:
        self.switches.append(f"{_text(at)},take,{channel},{machines[0]},{machines[1]},{reason},")


def write_long_room(site: Path, *, pairs: int = 3, months: str = "calendar") -> Path:
    """Write the room's files into ``site`` and return it."""
    draw, written = random.Random(20310228), Written()
    for number, (day, pair) in enumerate(_hours(pairs)):
        _play(written, draw, day, pair, number)
    names = [name for pair in range(pairs) for name in _pair(pair)]
    register = [f"{name},tape,{name[0]},quad,2020-01-01,,\n" for name in names]
    _write(site, "site.toml", SITE.format(months=months))
    _write(site, "machines.csv", "machine,kind,pair,group,installed,retired,replacement_cost\n" + "".join(register))
    _write(site, "events/all.csv", _csv("at,machine,event,value,detail", sorted(written.events)))
    _write(site, "switches.csv", _csv("at,action,channel,from_machine,to_machine,reason,by", written.switches))
    heads = "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,written_by"
    _write(site, "tickets.csv", _csv(heads, written.tickets))
    heads = "booking,transmission,channel,programme,show,reel,machine,role,starts,ends"
    _write(site, "bookings.csv", _csv(heads, written.bookings))
    return site


def _hours(pairs: int) -> Iterator[tuple[date, int]]:
    for number in range((LAST - FIRST).days + 1):
        day = FIRST + timedelta(days=number)
        if day.isoweekday() <= 5:
            yield from ((day, pair) for pair in range(pairs))


def _pair(pair: int) -> tuple[str, str]:
    letter = "ABCDEFGHIJKLMNOP"[pair]
    return f"{letter}1", f"{letter}2"


def _play(written: Written, draw: random.Random, day: date, pair: int, number: int) -> None:
    """One hour of one pair: booked, rolled, proved in step, at times disturbed, stopped."""
    start = datetime(day.year, day.month, day.day, 18) + timedelta(minutes=3 * pair)  # noqa: DTZ001 - UTC by suffix
    end, channel, machines = start + timedelta(hours=1), "One" if pair % 2 else "Two", _pair(pair)
    channel = f"{channel} {pair // 2 + 1}"
    is_silent = draw.random() < 0.004
    for machine, role in zip(machines, ("air", "protect"), strict=True):
        booked = f"TX{number},{channel},Moss,part 1,R{number % 90},{machine},{role},{_text(start)},{_text(end)}"
        written.bookings.append(f"B{number}-{machine},{booked}")
        if is_silent and role == "air":
            continue
        written.event(start - timedelta(seconds=40), machine, "roll")
        written.event(start - timedelta(seconds=36), machine, "lock")
        written.event(end + timedelta(seconds=2), machine, "stop")
    if not is_silent and draw.random() < 0.95:
        written.event(start - timedelta(seconds=20), machines[0], "offset", "0.01", machines[1])
    is_bad = pair == 0 and day <= REPAIR
    if not is_silent and draw.random() < (BAD if is_bad else FAULT):
        _disturb(written, draw, start + timedelta(minutes=draw.randint(5, 50)), (channel, machines, number))


def _disturb(written: Written, draw: random.Random, at: datetime, where: tuple[str, tuple[str, str], int]) -> None:
    """A loss that protect meets, one that heals, or a switch as a precaution; a ticket for most."""
    channel, machines, number = where
    kind = draw.random()
    if kind < 0.15:
        written.take(at, channel, machines, "precaution")
    else:
        lost = timedelta(seconds=round(draw.uniform(1.5, 9.0), 1))
        written.event(at, machines[0], "picture_lost")
        if kind < 0.35:
            written.event(at + lost, machines[0], "picture_back")
        else:
            written.take(at + lost, channel, machines, "fault")
    if draw.random() < 0.7:
        cause, action, part = draw.choice(CAUSES)
        opened, closed = at + timedelta(minutes=20), at + timedelta(hours=draw.randint(3, 30))
        closes = f"{_text(closed)},{_text(closed)}" if draw.random() < 0.97 else ","
        written.tickets.append(
            f'F{number},{machines[0]},{_text(opened)},{closes},picture gone,{cause},"{action}",{part},,,,'
        )


def _text(at: datetime) -> str:
    return f"{at.isoformat(timespec='milliseconds')}Z"


def _csv(head: str, rows: list[str]) -> str:
    return "\n".join([head, *rows]) + "\n"


def _write(site: Path, name: str, text: str) -> None:
    path = site / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write_long_room(
        Path(sys.argv[1]),
        pairs=int(sys.argv[2]) if len(sys.argv) > 2 else 3,
        months=sys.argv[3] if len(sys.argv) > 3 else "calendar",
    )
