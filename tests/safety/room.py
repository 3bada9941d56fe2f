"""A small invented site for the violence: a few hundred rows in every text format, and what a week later looks like.

`write_room` writes it; `write_later` adds, changes, lengthens, renames and removes files, so that a second run has all
of that to do.
"""

from __future__ import annotations

import gzip
import json
from datetime import datetime, timedelta
from pathlib import Path

TOML = 'name = "Invented room"\ntimezone = "Europe/Stockholm"\nday_starts = "06:00"\nframe_rate = 25\n'
EVENTS = "at,machine,event,value,detail\n"
SWITCHES = "at,action,channel,from_machine,to_machine,reason,by\n"
TICKETS = "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,written_by\n"
BOOKINGS = "booking,transmission,channel,programme,show,reel,machine,role,starts,ends\n"
MACHINES = "machine,kind,pair,group,installed,retired,replacement_cost\n"
RULINGS = "ruling,rules,channel,at,until,says,by,decided,why\n"
REELS = "reel,programme,show,recorded_on,recorded_by,recorded_at\n"
PAIRS = {"One": ("VT1", "VT2"), "Two": ("VT3", "VT4")}
EVENING = datetime(2031, 3, 3, 19)  # noqa: DTZ001 - local time, as the room writes it


def write_room(site: Path) -> Path:
    """The site as it is first loaded: 12 evenings on two channels, a fault on every third; returns its folder."""
    (site / "events").mkdir(parents=True)
    (site / "site.toml").write_text(TOML, encoding="utf-8")
    _write(
        site / "switches.csv", SWITCHES, [row for day in range(12) for row in _takes(day)] + ["no time,take,One,,VT1,,"]
    )
    _write(
        site / "tickets.csv",
        TICKETS,
        [f"K{day},{_air(day)},{_at(day, 21)},,,no picture,heads,cleaned,,1,,,ab" for day in range(0, 12, 3)],
    )
    _write(site / "bookings.csv", BOOKINGS, [row for day in range(14) for row in _bookings(day)])
    _write(
        site / "machines.csv",
        MACHINES,
        [f"{m},two-inch,P{channel},,2020-01-01,,90000" for channel, pair in PAIRS.items() for m in pair],
    )
    _write(site / "reels.csv", REELS, [f"R{day},Harbour News,{day},VT1,ab,{_at(day, 9)}" for day in range(12)])
    _write(site / "rulings.csv", RULINGS, [*_rulings(1, 4), f"R9,rain,One,{_at(9, 20)},,,cd,,no such word"])
    for machine in ("VT1", "VT2"):
        _write(site / "events" / f"{machine}.csv", EVENTS, [row for day in range(10) for row in _log(machine, day)])
    packed = EVENTS + "".join(f"{row}\n" for day in range(10) for row in _log("VT3", day))
    (site / "events" / "VT3.csv.gz").write_bytes(gzip.compress(packed.encode(), mtime=0))
    lines = [_as_object(row) for day in range(10) for row in _log("VT4", day)]
    _write(site / "events" / "VT4.jsonl", "", [*lines, "[no object]"])
    return site


def write_later(site: Path) -> Path:
    """A file more, three changed, one longer, one gone, one by another name; returns the folder."""
    _write(site / "events" / "VT1-later.csv", EVENTS, [row for day in (10, 11, 12) for row in _log("VT1", day)])
    _write(
        site / "tickets.csv",
        TICKETS,
        [f"K{day},{_air(day)},{_at(day, 21)},{_at(day, 22)},,no picture,,lined up,,2,,,cd" for day in range(0, 12, 3)],
    )
    with (site / "events" / "VT2.csv").open("a", encoding="utf-8") as file:
        file.writelines(f"{row}\n" for day in (10, 11) for row in _log("VT2", day))
    shorter = EVENTS + "".join(f"{row}\n" for day in range(9) for row in _log("VT3", day))  # an incident less
    (site / "events" / "VT3.csv.gz").write_bytes(gzip.compress(shorter.encode(), mtime=0))
    (site / "reels.csv").unlink()
    (site / "events" / "VT4.jsonl").rename(site / "events" / "VT4-all.jsonl")
    late = [row for day in range(9) for row in _takes(day)]
    _write(site / "switches.csv", SWITCHES, late)
    _write(site / "rulings.csv", RULINGS, _rulings(6))
    return site


def _write(path: Path, header: str, rows: list[str]) -> None:
    path.write_text(header + "".join(f"{row}\n" for row in rows), encoding="utf-8")


def _at(day: int, hour: int, minute: int = 0, second: float = 0) -> str:
    return (EVENING + timedelta(days=day, hours=hour - 19, minutes=minute, seconds=second)).isoformat()


def _channel(day: int) -> str:
    return "One" if day % 2 == 0 else "Two"


def _air(day: int) -> str:
    return PAIRS[_channel(day)][0]


def _bookings(day: int) -> list[str]:
    channel = _channel(day)
    return [
        f"B{day}{role},X{day},{channel},Harbour News,{day},R{day},{machine},{role},{_at(day, 20)},{_at(day, 20, 30)}"
        for machine, role in zip(PAIRS[channel], ("air", "protect"), strict=True)
    ]


def _log(machine: str, day: int) -> list[str]:
    """What a machine of the evening's pair logs; of every third evening it loses its picture."""
    if machine not in PAIRS[_channel(day)]:
        return [f"{_at(day, 12)},{machine},clean,,"]
    is_air = machine == _air(day)
    rows = [
        f"{_at(day, 19, 59, 20)},{machine},roll,,",
        f"{_at(day, 19, 59, 24)},{machine},lock,,",
        f"{_at(day, 19, 59, 30)},{machine},offset,0.0{day % 5},",
        f"{_at(day, 20, 31)},{machine},stop,,",
    ]
    if is_air and day % 3 == 0:
        rows += [f"{_at(day, 20, 10)},{machine},picture_lost,,", f"{_at(day, 20, 15)},{machine},picture_back,,"]
    return [*rows, f"{_at(day, 23)},{machine},head_swap,,"] if day == 5 else rows


def _rulings(*days: int) -> list[str]:
    """A person's word that five minutes were no air; on an odd day nothing is booked then, and it fits nothing."""
    return [f"R{day},not air,One,{_at(day, 20)},{_at(day, 20, 5)},,cd,{_at(day, 22)},a test card" for day in days]


def _takes(day: int) -> list[str]:
    channel = _channel(day)
    first, second = PAIRS[channel]
    start = [f"{_at(day, 19, 59, 20)},start,{channel},,{first},,ab"]
    return start if day % 3 else [*start, f"{_at(day, 20, 10, 7)},take,{channel},{first},{second},fault,ab"]


def _as_object(row: str) -> str:
    names = ("at", "machine", "event", "value", "detail")
    return json.dumps({name: cell for name, cell in zip(names, row.split(","), strict=True) if cell})
