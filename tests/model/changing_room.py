"""A site folder whose files come, grow, change and go by a seeded draw."""

from __future__ import annotations

import csv
import io
import random
import shutil
from collections import defaultdict
from datetime import datetime, timedelta
from pathlib import Path

Row = dict[str, str]
WHOLE = "%Y-%m-%dT%H:%M:%S.%fZ"


class ChangingRoom:
    """A simulated room, its logs a file a machine and day, of which ``site`` holds what has arrived."""

    def __init__(self, simulated: Path, site: Path, seed: int) -> None:
        self.site, self.draw = site, random.Random(seed)
        (site / "events").mkdir(parents=True)
        for path in simulated.glob("*.*"):
            if path.name not in ("README.md", "truth.json"):
                shutil.copy2(path, site / path.name)
        self.waiting: dict[str, list[Row]] = defaultdict(list)
        for path in sorted((simulated / "events").glob("*.csv")):
            for row in _read(path):
                self.waiting[f"events/{row['machine']}_{row['at'][:10]}.csv"].append(row)
        self.there: dict[str, list[Row]] = {}
        for _ in range(2 * len(self.waiting) // 3):
            self.arrive()

    def step(self) -> str:
        """One change, drawn; returns which."""
        changes = (
            self.arrive, self.arrive, self.arrive_in_part, self.grow, self.correct, self.go, self.copy, self.turn_clock,
            self.book_otherwise, self.cancel, self.lose_takes, self.take_late, self.rule_no_air,
        )  # fmt: skip
        change = self.draw.choice(changes)
        change()
        return change.__name__

    def arrive(self) -> None:
        """A file of a machine's day that was not there."""
        if self.waiting:
            name = self.draw.choice(sorted(self.waiting))
            self._write(name, self.waiting.pop(name))

    def arrive_in_part(self) -> None:
        """The first half of a file."""
        if self.waiting:
            name = self.draw.choice(sorted(self.waiting))
            rows = self.waiting.pop(name)
            self.waiting[name] = rows[len(rows) // 2 :]
            self._write(name, rows[: len(rows) // 2])

    def grow(self) -> None:
        """Lines that wait for a file which is there come at its end."""
        grown = sorted(set(self.waiting) & set(self.there))
        if grown:
            name = self.draw.choice(grown)
            self._write(name, self.there[name] + self.waiting.pop(name))

    def correct(self) -> None:
        """Some lines of a file are gone, and some say another thing or another time."""
        name = self._drawn()
        rows = [dict(row) for row in self.there[name] if self.draw.random() > 0.02]
        for row in self.draw.sample(rows, min(3, len(rows))):
            row["event"] = self.draw.choice(["stop", "roll", "lock", "unlock", "alive", "picture_lost"])
            row["value"] = row["detail"] = ""
            row["at"] = _later(row["at"], self.draw.uniform(-30, 30))
        self._write(name, rows)

    def go(self) -> None:
        """A file is gone, and may come again later."""
        if len(self.there) > 3:
            name = self._drawn()
            self.waiting[name] = self.there.pop(name) + self.waiting.get(name, [])
            (self.site / name).unlink()

    def copy(self) -> None:
        """A rotated file brings the last lines of another one again."""
        name = self._drawn()
        copied = name.replace(".csv", "_rotated.csv")
        if "_rotated" not in name:
            self._write(copied, self.there[name][-40:])

    def turn_clock(self) -> None:
        """A machine's whole log is found to be of a clock that was 40 s fast."""
        machine = self.draw.choice(sorted({name.split("/")[1][:4] for name in self.there}))
        for name in [each for each in self.there if each.split("/")[1].startswith(machine)]:
            self._write(name, [row | {"at": _later(row["at"], 40)} for row in self.there[name]])

    def book_otherwise(self) -> None:
        """A booking ends later."""
        rows = _read(self.site / "bookings.csv")
        row = self.draw.choice(rows)
        row["ends"] = _later(row["ends"], self.draw.uniform(-300, 900))
        _write(self.site / "bookings.csv", rows)

    def cancel(self) -> None:
        """A booking is taken back."""
        rows = _read(self.site / "bookings.csv")
        rows.remove(self.draw.choice(rows))
        _write(self.site / "bookings.csv", rows)

    def lose_takes(self) -> None:
        """Some lines of the selector are not there."""
        rows = _read(self.site / "switches.csv")
        _write(self.site / "switches.csv", [row for row in rows if self.draw.random() > 0.02])

    def take_late(self, channel: str = "") -> None:
        """A line of the selector that it had not handed over comes at the end of its log."""
        rows = _read(self.site / "switches.csv")
        row = dict(self.draw.choice([row for row in rows if channel in ("", row["channel"])]))
        row["at"] = _later(row["at"], self.draw.uniform(1, 600))
        _write(self.site / "switches.csv", [*rows, row])

    def rule_no_air(self) -> None:
        """A person rules that ten minutes of a booking are no air."""
        booking = self.draw.choice(_read(self.site / "bookings.csv"))
        ruling = {
            "ruling": "R1", "rules": "not air", "channel": booking["channel"], "at": _later(booking["starts"], 120),
            "until": _later(booking["starts"], 720), "says": "", "by": "engineer", "why": "a rehearsal",
        }  # fmt: skip
        _write(self.site / "rulings.csv", [ruling])

    def _drawn(self) -> str:
        return self.draw.choice(sorted(self.there))

    def _write(self, name: str, rows: list[Row]) -> None:
        self.there[name] = rows
        _write(self.site / name, rows)


def _later(stamp: str, seconds: float) -> str:
    return (datetime.strptime(stamp, WHOLE) + timedelta(seconds=seconds)).strftime(WHOLE)  # noqa: DTZ007


def _read(path: Path) -> list[Row]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _write(path: Path, rows: list[Row]) -> None:
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, rows[0].keys() if rows else ["at", "machine", "event", "value", "detail"])
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8")
