"""Whole rooms with known clocks: what went on air is drawn first, on house time, and its five states are added up here.

Two channels, a pair of machines each. Every transmission has one scene, whose seconds by state follow from when things
were drawn to happen and from three rules: a machine that is not good on air is lost; a partner that is not good leaves
air exposed, one whose offset is not logged yet leaves it unproved. The logs are then written with any clocks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from tests.ingest.clocks.known_rooms import DAY_S, JITTER_S, ORIGIN_S, Law

PAIRS = {"One": ("VT1", "VT2"), "Two": ("VT3", "VT4")}
STATES = ("lost", "unknown", "covered", "unproved", "exposed")
LENGTH_S = 1500.0
EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - written with a Z
TOML = """name = "A room of drawn clocks"
timezone = "UTC"
day_starts = "00:00"
frame_rate = 25
start_delay_s = {delay}
"""


@dataclass
class Drawn:
    """A room on house time: machine lines, orders of the desk, bookings, and the true seconds of each transmission."""

    events: list[tuple[float, str, str, str]] = field(default_factory=list)
    orders: list[tuple[float, str, str, str, str, str]] = field(default_factory=list)
    bookings: list[tuple[str, str, str, str, float]] = field(default_factory=list)
    truth: dict[str, dict[str, float]] = field(default_factory=dict)

    def log(self, at: float, machine: str, event: str, value: str = "") -> None:
        self.events.append((at, machine, event, value))


def draw_room(seed: int, days: int, a_day: int = 6) -> Drawn:
    """`a_day` transmissions a day and channel, rehearsals before; a tenth of the starts are local, as many spare."""
    rng, room = np.random.default_rng(seed), Drawn()
    for day in range(days):
        for channel, pair in PAIRS.items():
            _rehearse(room, rng, ORIGIN_S + day * DAY_S + 8 * 3600, channel, pair)
            for slot in range(a_day):
                start = ORIGIN_S + day * DAY_S + (10 + 1.5 * slot) * 3600
                _transmit(room, rng, start, f"{channel}-{day:02}-{slot}", channel)
    return room


def _rehearse(room: Drawn, rng: np.random.Generator, at: float, channel: str, pair: tuple[str, str]) -> None:
    """Two starts of each machine, closer together than many an offset; of a fifth the log has no roll."""
    for machine in pair:
        for again in (0.0, float(rng.uniform(25, 70))):
            begun = at + again + float(rng.uniform(0, 300))
            room.orders.append((begun, "start", channel, "", machine, "rehearsal"))
            if rng.random() >= 0.2:
                room.log(begun + float(rng.uniform(0, JITTER_S)), machine, "roll")
            room.log(begun + 12.0, machine, "stop")


def _transmit(room: Drawn, rng: np.random.Generator, start: float, name: str, channel: str) -> None:
    air, protect = PAIRS[channel] if rng.random() < 0.5 else PAIRS[channel][::-1]
    end = start + LENGTH_S
    for machine, role in ((air, "air"), (protect, "protect")):
        room.bookings.append((name, channel, machine, role, start))
        if rng.random() >= 0.1:
            room.orders.append((start - 8.0, "start", channel, "", machine, ""))
        rolled = start - 8.0 + float(rng.uniform(0, JITTER_S))
        room.log(rolled, machine, "roll")
        room.log(rolled + 2.7, machine, "lock")
        room.log(end + 6.0, machine, "stop")
    if rng.random() < 0.1:
        room.orders.append((start - 500.0, "start", channel, "", air, ""))
    room.log(start - 3.0, air, "offset", "0.01")
    room.orders.append((start, "take", channel, "standby", air, "planned"))
    last, lost, unproved, exposed = _scene(room, rng, start, channel, (air, protect))
    room.orders.append((end, "take", channel, last, "standby", "planned"))
    covered = LENGTH_S - lost - unproved - exposed
    room.truth[name] = {
        "lost": lost, "unknown": 0.0, "covered": covered, "unproved": unproved, "exposed": exposed,
    }  # fmt: skip


def _scene(
    room: Drawn, rng: np.random.Generator, start: float, channel: str, pair: tuple[str, str]
) -> tuple[str, float, float, float]:
    """What happens in a transmission; the machine on air at its end, seconds lost, unproved and exposed."""
    air, protect = pair
    at = start + float(rng.uniform(60, 1200))
    broken, unproved = float(rng.uniform(2.5, 40)), float(rng.uniform(2.5, 60))
    match int(rng.integers(4)):
        case 0:  # nothing
            return air, 0.0, 0.0, 0.0
        case 1:  # air breaks, the desk takes protect, and the machine that was left stays broken
            room.log(at, air, "unlock")
            room.orders.append((at + broken, "take", channel, air, protect, "fault"))
            return protect, broken, 0.0, start + LENGTH_S - at - broken
        case 2:  # air breaks and heals; protect is in step again only when it is logged
            _break(room, at, air, broken)
            room.log(at + broken + unproved, air, "offset", "-0.01")
            return air, broken, unproved, 0.0
        case _:  # protect breaks and heals
            _break(room, at, protect, broken)
            room.log(at + broken + unproved, protect, "offset", "0.02")
            return air, 0.0, unproved, broken


def _break(room: Drawn, at: float, machine: str, lasts_s: float) -> None:
    room.log(at, machine, "unlock")
    room.log(at + lasts_s, machine, "lock")


def write_room(room: Drawn, folder: Path, laws: Mapping[str, Law], *, step_s: float = 0.001) -> Path:
    """The room as a site folder, each machine's log on the clock of its law; right where it has none."""
    (folder / "events").mkdir(parents=True)
    (folder / "site.toml").write_text(TOML.format(delay=JITTER_S / 2), encoding="utf-8")
    lines = ["at,machine,event,value,detail"]
    for at, machine, event, value in room.events:
        stamp = at + float(laws.get(machine, Law()).offset_at(np.array([at]))[0])
        lines.append(f"{_stamp(np.floor(stamp / step_s) * step_s, step_s)},{machine},{event},{value},")
    _write(folder / "events" / "all.csv", lines)
    orders = [f"{_stamp(at, 0.001)},{','.join(words)},desk" for at, *words in sorted(room.orders)]
    _write(folder / "switches.csv", ["at,action,channel,from_machine,to_machine,reason,by", *orders])
    booked = [
        f"K{number},{name},{channel},,,,{machine},{role},{_stamp(at, 1)},{_stamp(at + LENGTH_S, 1)}"
        for number, (name, channel, machine, role, at) in enumerate(room.bookings)
    ]
    _write(
        folder / "bookings.csv",
        ["booking,transmission,channel,programme,show,reel,machine,role,starts,ends", *booked],
    )
    _write(folder / "tickets.csv", ["ticket,machine,opened"])
    register = [f"{machine},transverse,{channel},,,," for channel, pair in PAIRS.items() for machine in pair]
    _write(folder / "machines.csv", ["machine,kind,pair,group,installed,retired,replacement_cost", *register])
    return folder


def _stamp(seconds: float, step_s: float) -> str:
    at = EPOCH + timedelta(milliseconds=round(float(seconds) * 1000))
    return at.isoformat(timespec="milliseconds" if step_s < 1 else "seconds") + "Z"


def _write(path: Path, lines: list[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
