"""What was measured, a line of JSON an entry, and whether anything got slower than the best that was ever seen.

An entry is compared with those of the same size on a machine of the same words only; a host has no name here.
"""

import json
import os
import platform
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from pathlib import Path
from sqlite3 import sqlite_version
from typing import Any

from bench.speed.measuring import Spread
from bench.speed.targets import GIB, TARGETS, Target

HISTORY = Path(__file__).parents[1] / "history.jsonl"
LIBRARIES = ("duckdb", "polars", "pandas")
DIGITS = 4


@dataclass(frozen=True)
class Entry:
    """One run of the bench. ``lines`` are those asked for; ``left_out`` says why a contender is missing.

    With a ``rate``, lines a second of each machine, the record had so many ``days`` in the place of ``months``.
    """

    date: str
    revision: str
    lines: int
    months: int
    repeats: int
    machine: Mapping[str, Any]
    figures: Mapping[str, Spread]
    sizes: Mapping[str, int] = field(default_factory=dict)
    stages: Sequence[Mapping[str, Any]] = ()
    left_out: Mapping[str, str] = field(default_factory=dict)
    rate: float = 0.0
    days: int = 0
    slow_repeats: int = 0

    @property
    def length(self) -> str:
        """How long a record the lines are of, in words."""
        if self.rate:
            return f"{self.days} days at about {self.rate:g} a second of each machine"
        return f"{self.months} months"


def describe_machine() -> dict[str, Any]:
    """The words a figure needs beside it: cores, memory, processor, versions."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    return {
        "cores": len(os.sched_getaffinity(0)),
        "memory_gib": round(memory / GIB),
        "processor": _processor(),
        "python": platform.python_version(),
        "sqlite": sqlite_version,
        **{name: version(name) for name in LIBRARIES},
    }


def _processor() -> str:
    said = Path("/proc/cpuinfo")
    lines = said.read_text(encoding="utf-8").splitlines() if said.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()


def read_history(path: Path = HISTORY) -> list[Entry]:
    """Every entry, oldest first; none where nothing was measured yet."""
    if not path.exists():
        return []
    rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line]
    return [Entry(**row | {"figures": {name: Spread(**one) for name, one in row["figures"].items()}}) for row in rows]


def append_entry(entry: Entry, path: Path = HISTORY) -> None:
    """Add an entry at the end; figures to four decimals."""
    row = asdict(entry)
    row["figures"] = {
        name: {key: round(value, DIGITS) for key, value in one.items()} for name, one in row["figures"].items()
    }
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps(row, sort_keys=True, ensure_ascii=False) + "\n")


def latest_of_each_size(entries: Sequence[Entry]) -> list[Entry]:
    """The last entry of each number of lines, the smallest first."""
    return [entry for _, entry in sorted({entry.lines: entry for entry in entries}.items())]


def find_slower(new: Entry, before: Sequence[Entry]) -> list[str]:
    """A sentence for each figure that is worse than the best of its kind by more than the two spreads allow."""
    alike = [entry for entry in before if _setting(entry) == _setting(new)]
    told = ((target, _best(target, alike)) for target in TARGETS if target.name in new.figures)
    return [_sentence(target, new, best) for target, best in told if best is not None and _is_worse(target, new, best)]


def _setting(entry: Entry) -> tuple[Any, ...]:
    return (
        entry.lines,
        entry.months,
        entry.rate,
        *(entry.machine[word] for word in ("cores", "memory_gib", "processor")),
    )


def _best(target: Target, entries: Sequence[Entry]) -> Entry | None:
    having = [entry for entry in entries if target.name in entry.figures]
    sign = -1 if target.more_is_better else 1
    return min(having, key=lambda entry: sign * entry.figures[target.name].median, default=None)


def _is_worse(target: Target, new: Entry, best: Entry) -> bool:
    now, then = new.figures[target.name], best.figures[target.name]
    return now.high < then.low if target.more_is_better else now.low > then.high


def _sentence(target: Target, new: Entry, best: Entry) -> str:
    now, then = (entry.figures[target.name] for entry in (new, best))
    return (
        f"Slower than the best: {target.what} is {now.median:.{target.digits}f} ({now.low:.{target.digits}f} to "
        f"{now.high:.{target.digits}f}), was {then.median:.{target.digits}f} ({then.low:.{target.digits}f} to "
        f"{then.high:.{target.digits}f}) on {best.date} at {best.revision}."
    )
