"""Notes of the stamps of files that are read whole what a search for rows that come again need not look at.

Where the stamps of a file rise from line to line, none of its lines is as one before it. So a line can only come again
where its stamp does not lie above all those before it, or where another file has lines of the same machine and time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import numpy.typing as npt
import polars as pl

Instants = npt.NDArray[np.int64]  # microseconds since 1970
Span = tuple[datetime, datetime]

MANY, MOST_SHARE = 10_000, 0.1  # stamps that do not rise, beyond which all of the file is looked at
BEFORE_ALL = np.iinfo(np.int64).min


@dataclass
class Stamps:
    """Of one file: its machines, the first and last stamp, rows, and the stamps that do not rise.

    ``is_unordered`` is true once so many do not that they are no longer kept.
    """

    machines: set[str] = field(default_factory=set)
    first: int = 0
    last: int = BEFORE_ALL
    count: int = 0
    late: list[Instants] = field(default_factory=list)
    is_unordered: bool = False

    def add(self, at: Instants, machines: set[str]) -> None:
        """Note further rows of the file."""
        highest = np.maximum.accumulate(np.concatenate([[self.last], at]))
        late = at[at <= highest[:-1]]
        self.first = min(int(at.min()), self.first) if self.count else int(at.min())
        self.last, self.count = int(highest[-1]), self.count + at.size
        self.machines |= machines
        self.late.append(late)
        self.is_unordered |= sum(each.size for each in self.late) > MANY + MOST_SHARE * self.count
        if self.is_unordered:
            self.late.clear()


@dataclass
class Rising:
    """The stamps of every file that was read from its beginning. Mutable."""

    files: dict[str, Stamps] = field(default_factory=dict)

    def note(self, file: str, rows: pl.DataFrame) -> None:
        """Note events of ``file``, in the order in which they are read."""
        at = rows["stamped_at_utc"].cast(pl.Int64).to_numpy()
        self.files.setdefault(file, Stamps()).add(at, set(rows["machine"].unique().to_list()))

    def forget(self, file: str) -> None:
        """Leave out a file whose rows were not all noted, or were changed since."""
        self.files.pop(file, None)

    def spans(self) -> list[Span]:
        """Where all rows must be looked at: files of one machine that overlap, and files in no order."""
        return [
            *((_instant(each.first), _instant(each.last)) for each in self.files.values() if each.is_unordered),
            *((_instant(first), _instant(last)) for first, last in self._overlaps()),
        ]

    def reach(self) -> Span:
        """The first stamp of all files and the last; there must be one."""
        files = self.files.values()
        return _instant(min(each.first for each in files)), _instant(max(each.last for each in files))

    def meets(self, machine: str, first: datetime, last: datetime) -> Iterator[Span]:
        """What other rows of ``machine``, from ``first`` to ``last``, share with the time of each file here."""
        for each in self.files.values():
            start, end = max(_instant(each.first), first), min(_instant(each.last), last)
            if machine in each.machines and start <= end:
                yield start, end

    def late(self) -> Instants:
        """The stamps that do not rise, of files in order; each once, sorted."""
        found = [late for each in self.files.values() for late in each.late]
        return np.unique(np.concatenate([np.empty(0, np.int64), *found]))

    def _overlaps(self) -> Iterator[tuple[int, int]]:
        for machine in sorted({machine for each in self.files.values() for machine in each.machines}):
            spans = sorted((each.first, each.last) for each in self.files.values() if machine in each.machines)
            reach = spans[0][1]
            for first, last in spans[1:]:
                if first <= reach:
                    yield first, min(last, reach)
                reach = max(reach, last)


def _instant(at: int) -> datetime:
    return datetime(1970, 1, 1) + at * datetime.resolution  # noqa: DTZ001 - naive UTC, as in all tables
