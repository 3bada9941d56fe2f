"""The sites that are timed: simulated from a seed, and one of three years as it stood a day before its last.

The day that is added comes as rooms give it: a new file of events, and switches and tickets a little longer than they
were. Bookings stand in the books ahead.
"""

import csv
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bench.speed.contenders import AIRHOURS
from bench.speed.measuring import run_program

YEARS_MONTHS = 36
SLOW_REPEATS = 2
MACHINES = 8  # of a room that `airhours simulate` writes unless it is told otherwise
DAY_S = 86_400
MOST_YEARS_LINES = 10_000_000
DAY_FILE = "added_day.csv"
TIMES = {"switches.csv": "at", "tickets.csv": "opened"}


@dataclass(frozen=True)
class Asked:
    """What is to be measured: about how many event lines over how many months, how often, from which seed.

    With ``rate``, lines a second of each machine, the length of the record follows from the lines in the place of
    ``months``, so that more lines are a longer record, as in life. ``slow_repeats`` are the rounds of the programs in
    `contenders.SLOW`. ``years_months`` is how long the site is to which a day is added; it has no more than ten million
    lines, so that the disk need not hold two large sites.
    """

    lines: int
    months: int
    repeats: int
    seed: int
    mess: float
    years_months: int = YEARS_MONTHS
    rate: float = 0.0
    slow_repeats: int = SLOW_REPEATS

    @property
    def days(self) -> int:
        """Days of the record, whole ones and at least one; 0 where months are given."""
        return max(1, round(self.lines / (self.rate * MACHINES * DAY_S))) if self.rate else 0

    @property
    def years_lines(self) -> int:
        """Lines of the site to which a day is added."""
        return min(self.lines, MOST_YEARS_LINES)


def simulate(folder: Path, lines: int, *, months: int = 0, days: int = 0, mess: float, seed: int) -> Path:
    """A simulated site of so many ``months``, or ``days`` if they are given.

    One that lies there already is taken as it is, since the same seed gives the same bytes.

    Raises:
        ProgramError: the simulator refused.
    """
    if not (folder / "site.toml").exists():
        shutil.rmtree(folder, ignore_errors=True)
        length = ["--days", str(days)] if days else ["--months", str(months)]
        sizes = ["--lines", str(lines), *length]
        run_program([*AIRHOURS, "simulate", str(folder), *sizes, "--seed", str(seed), "--mess", str(mess)])
    return folder


def count_lines(site: Path) -> int:
    """Rows of events in the site's files, headers left out."""
    return sum(sum(1 for _ in path.open("rb")) - 1 for path in _events(site))


def _events(site: Path) -> list[Path]:
    return sorted((site / "events").glob("*.csv"))


def split_last_day(site: Path, before: Path, after: Path) -> str:
    """Lay the site out twice: without the last day of its events, and with it come later; returns that day.

    Stamps of a simulated site are written alike and in order of time, so that the date at their beginning tells.
    """
    for folder in (before, after):
        shutil.rmtree(folder, ignore_errors=True)
        (folder / "events").mkdir(parents=True)
    day = max(_last_date(path) for path in _events(site))
    with (after / "events" / DAY_FILE).open("w", encoding="utf-8", newline="") as added:
        added.write("at,machine,event,value,detail\n")
        for path in _events(site):
            early, late = before / "events" / path.name, after / "events" / path.name
            added.writelines(_cut(path, early, "at", day))
            os.link(early, late)
    for path in sorted(path for path in site.glob("*") if path.is_file()):
        shutil.copy2(path, after / path.name)
        late_rows = list(_cut(path, before / path.name, TIMES[path.name], day)) if path.name in TIMES else None
        if late_rows is None:
            shutil.copy2(path, before / path.name)
        else:
            text = (before / path.name).read_text(encoding="utf-8")
            (after / path.name).write_text(text + "".join(late_rows), encoding="utf-8")
    return day


def _last_date(path: Path) -> str:
    """The greatest date among the last lines of a file."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - 4096))
        tail = file.read().decode().splitlines()[1:]
    return max((line[:10] for line in tail if line[:2].isdigit()), default="")


def _cut(path: Path, early: Path, column: str, day: str) -> Iterator[str]:
    """Write the lines before ``day`` to ``early`` and yield the others."""
    with path.open(encoding="utf-8", newline="") as file, early.open("w", encoding="utf-8", newline="") as kept:
        header = file.readline()
        place = next(csv.reader([header])).index(column)
        kept.write(header)
        for line in file:
            cell = line[:10] if place == 0 else line.split(",", place + 1)[place][:10]
            if cell >= day:
                yield line
            else:
                kept.write(line)
