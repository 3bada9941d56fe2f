"""Four small invented rooms, written as a site's files: one cause behind two failures, a fault in the recording on both
copies, a precaution with rulings, and a protect that was not ready. Times are UTC; clock stamps to the millisecond.
"""

from __future__ import annotations

import csv
from datetime import datetime, timedelta
from pathlib import Path

EVENTS = ("at", "machine", "event", "value", "detail")
SWITCHES = ("at", "action", "channel", "from_machine", "to_machine", "reason", "by")
BOOKINGS = ("booking", "transmission", "channel", "programme", "show", "reel", "machine", "role", "starts", "ends")
REELS = ("reel", "programme", "show", "recorded_on", "recorded_by", "recorded_at")
TICKETS = (
    "ticket", "machine", "opened", "restored", "closed", "symptom", "cause", "action", "part", "labour_hours",
    "parts_cost", "reel", "written_by",
)  # fmt: skip
RULINGS = ("ruling", "rules", "channel", "at", "until", "says", "by", "decided", "why")
TOML = 'name = "Room of nowhere"\ntimezone = "Europe/Stockholm"\nday_starts = "00:00"\nframe_rate = 25\n'
DAY = datetime.fromisoformat("2031-05-05 18:00:00")


def t(seconds: float, day: int = 0) -> str:
    """Seconds after 18:00 UTC of a day, as a stamp."""
    return f"{(DAY + timedelta(days=day, seconds=seconds)).isoformat(timespec='milliseconds')}Z"


class Desk:
    """The rows of one room as they pile up."""

    def __init__(self) -> None:
        self.events: list[tuple[object, ...]] = []
        self.switches: list[tuple[object, ...]] = []
        self.bookings: list[tuple[object, ...]] = []
        self.reels: list[tuple[object, ...]] = []
        self.tickets: list[tuple[object, ...]] = []
        self.rulings: list[tuple[object, ...]] = []

    def log(self, seconds: float, machine: str, event: str, detail: str = "", day: int = 0) -> None:
        self.events.append((t(seconds, day), machine, event, "", detail))

    def take(self, seconds: float, channel: str, source: str, target: str, reason: str = "", day: int = 0) -> None:
        self.switches.append((t(seconds, day), "take", channel, source, target, reason, "desk"))

    def air(self, name: str, channel: str, machines: tuple[str, ...], *, day: int = 0, offset: str = "0.010") -> None:
        """An hour from 18:00: booked, rolled, locked, in step if there is an offset, taken to air from standby."""
        for place, machine in enumerate(machines):
            reel, role = f"K-{name}{'AB'[place]}", ("air", "protect")[place]
            self.bookings.append(
                (f"{name}{place}", name, channel, "Moss", "part 1", reel, machine, role, t(0, day), t(3600, day))
            )
            self.log(-30, machine, "roll", day=day)
            self.log(-26, machine, "lock", day=day)
            self.log(3601, machine, "stop", day=day)
        if len(machines) > 1 and offset:
            self.events.append((t(-20, day), machines[0], "offset", offset, machines[1]))
        self.take(0, channel, "standby", machines[0], "planned", day=day)
        self.take(3600, channel, machines[0], "standby", "planned", day=day)

    def write(self, site: Path) -> Path:
        """The files of the site."""
        site.mkdir(parents=True)
        (site / "events").mkdir()
        (site / "site.toml").write_text(TOML, encoding="utf-8")
        machines = [(name, "transport", name[0]) for name in ("A1", "A2", "B1", "B2")]
        tables = {
            "switches.csv": (SWITCHES, sorted(self.switches)), "bookings.csv": (BOOKINGS, self.bookings),
            "tickets.csv": (TICKETS, self.tickets), "reels.csv": (REELS, self.reels),
            "machines.csv": (("machine", "kind", "pair"), machines), "rulings.csv": (RULINGS, self.rulings),
        }  # fmt: skip
        for machine in ("A1", "A2", "B1", "B2"):
            own = sorted(row for row in self.events if row[1] == machine)
            tables[f"events/{machine}.csv"] = (EVENTS, own)
        for name, (header, rows) in tables.items():
            if rows or name in ("tickets.csv",):
                with (site / name).open("w", newline="", encoding="utf-8") as file:
                    csv.writer(file, lineterminator="\n").writerows([header, *rows])
        return site


def one_cause(site: Path) -> Path:
    """The mains dip at 18:20:00: A1 falls out of lock, A2 0.3 s later, B1 on the other channel 1.1 s later."""
    desk = Desk()
    desk.air("T1", "One", ("A1", "A2"))
    desk.air("T2", "Two", ("B1", "B2"))
    desk.log(1200.0, "A1", "unlock")
    desk.log(1200.3, "A2", "unlock")
    desk.log(1201.1, "B1", "picture_lost")
    desk.take(1206.0, "One", "A1", "standby", "fault")
    desk.log(1214.0, "A2", "lock")
    desk.take(1216.0, "One", "standby", "A2", "fault")
    desk.take(1204.0, "Two", "B1", "B2", "fault")
    desk.log(1240.0, "A1", "lock")
    desk.log(1230.0, "B1", "picture_back")
    desk.tickets.append(("F1", "A1", t(1500), t(5400), "", "unlocked", "mains", "", "", "", "", "", ""))
    # The same dip at both ends of one picture: lost on both copies and on the other pair too, three days later.
    desk.air("T3", "One", ("A1", "A2"), day=3)
    desk.air("T4", "Two", ("B1", "B2"), day=3)
    for machine, late in (("A1", 0.0), ("A2", 0.02), ("B1", 0.5)):
        desk.log(600 + late, machine, "picture_lost", day=3)
        desk.log(603 + late, machine, "picture_back", day=3)
    return desk.write(site)


def recorded_fault(site: Path) -> Path:
    """Both copies lose the picture at the same spot for 4 s; the take after 2.5 s cannot help. B1 and B2 stay calm."""
    desk = Desk()
    desk.air("T1", "One", ("A1", "A2"))
    desk.air("T2", "Two", ("B1", "B2"))
    for machine, late in (("A1", 0.0), ("A2", 0.02)):
        desk.log(1500 + late, machine, "picture_lost")
        desk.log(1504 + late, machine, "picture_back")
    desk.take(1502.5, "One", "A1", "A2", "fault")
    desk.reels += [
        ("K-T1A", "Moss", "part 1", "B1", "crew a", t(0, -40)),
        ("K-T1B", "Moss", "part 1", "B2", "crew a", t(0, -40)),
    ]
    desk.tickets.append(
        ("F7", "A1", t(1800), "", "", "picture lost on both", "recorded wrong", "", "", "", "", "K-T1A", "")
    )
    # Five days earlier the same reel did the same on another transport.
    desk.air("T0", "One", ("B1", "B2"), day=-5)
    desk.bookings[-2] = (*desk.bookings[-2][:5], "K-T1A", *desk.bookings[-2][6:])
    desk.log(1500.0, "B1", "picture_lost", day=-5)
    desk.log(1504.0, "B1", "picture_back", day=-5)
    return desk.write(site)


def precaution(site: Path) -> Path:
    """A guide alarms, A2 is taken 4 s later; a second switch that nothing explains; slate by mistake; and rulings."""
    desk = Desk()
    desk.air("T1", "One", ("A1", "A2"))
    desk.log(900.0, "A1", "alarm", "guide pressure")
    desk.take(904.0, "One", "A1", "A2", "precaution")
    desk.log(930.0, "A1", "clear", "guide pressure")
    desk.take(2400.0, "One", "A2", "A1")
    desk.air("T2", "One", ("A1", "A2"), day=1)
    desk.take(1200.0, "One", "A1", "A2", day=1)
    desk.air("T3", "One", ("A1", "A2"), day=2)
    desk.take(1200.0, "One", "A1", "standby", day=2)
    desk.take(1207.5, "One", "standby", "A1", "return", day=2)
    desk.air("T4", "One", ("A1", "A2"), day=4)
    for begin in (600.0, 2400.0):
        desk.log(begin, "A1", "sound_lost", day=4)
        desk.take(begin + 2.0, "One", "A1", "A2", "fault", day=4)
        desk.log(begin + 30.0, "A1", "sound_back", day=4)
        desk.take(begin + 60.0, "One", "A2", "A1", "return", day=4)
    decided = t(0, 10)
    desk.rulings += [
        ("R1", "switch", "One", t(1200.2, 1), "", "precaution", "chief", decided, "desk log tells of a smell"),
        (
            "R2",
            "cause",
            "One",
            t(600, 4),
            "",
            "routing and feeds: patch or cable",
            "chief",
            decided,
            "cord seen pulled",
        ),
        ("R3", "one incident", "One", t(500, 4), t(2500, 4), "", "chief", decided, "the same loose cord"),
    ]
    return desk.write(site)


def not_ready(site: Path) -> Path:
    """A2 lost lock two minutes before A1 loses the picture; others fail alone, unproved, or after silence."""
    desk = Desk()
    desk.air("T1", "One", ("A1", "A2"))
    desk.log(1080.0, "A2", "unlock")
    desk.log(1200.0, "A1", "picture_lost")
    desk.take(1205.0, "One", "A1", "standby", "fault")
    desk.log(1226.0, "A2", "lock")
    desk.take(1230.0, "One", "standby", "A2", "fault")
    desk.log(1300.0, "A1", "picture_back")
    desk.tickets.append(
        ("F3", "A2", t(1400), "", "", "would not lock", "", "heads worn, changed", "head", "", "", "", "")
    )
    desk.air("T2", "Two", ("B1",), day=1)  # alone: no protect is booked
    desk.log(1200.0, "B1", "stop", day=1)
    desk.take(1203.0, "Two", "B1", "standby", "fault", day=1)
    desk.log(1260.0, "B1", "roll", day=1)
    desk.log(1264.0, "B1", "lock", day=1)
    desk.take(1270.0, "Two", "standby", "B1", "return", day=1)
    desk.air("T3", "One", ("A1", "A2"), day=2, offset="")  # never proved in step
    desk.log(1200.0, "A1", "picture_lost", day=2)
    desk.log(1201.5, "A1", "picture_back", day=2)
    desk.air("T4", "Two", ("B1", "B2"), day=3, offset="0.120")  # out of step
    desk.log(1200.0, "B1", "picture_lost", day=3)
    desk.take(1202.0, "Two", "B1", "B2", "fault", day=3)
    for minute in range(-1, 15):  # B2 logs alive, then falls silent; its next line says that the picture is lost
        desk.log(60 * minute + 1, "B2", "alive", day=5)
    desk.air("T5", "Two", ("B2", "B1"), day=5)
    desk.log(1500.0, "B2", "picture_lost", day=5)
    desk.log(1500.5, "B2", "alive", day=5)
    desk.take(1502.0, "Two", "B2", "B1", "fault", day=5)
    return desk.write(site)


ROOMS = {"one cause": one_cause, "recorded fault": recorded_fault, "precaution": precaution, "not ready": not_ready}
