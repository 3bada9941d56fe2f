"""What is played and what is written about it, gathered column by column: a scene adds to both in one breath.

A scene is played for all transmissions that were dealt it at once, so that each call here takes arrays of equal length:
instants in microseconds since 1970 (UTC, house clock), machines by number. What is stated (`Truth`) is not worked out
from what is logged (`Logged`): the scene says both.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline.simulate.draws import Ints

Columns = dict[str, type[pl.DataType]]
STANDBY, OTHER, NOBODY = -1, -2, -3  # sources that are no machine

EVENTS: Columns = {"machine": pl.Int64, "at": pl.Int64, "event": pl.String, "value": pl.String, "detail": pl.String}
SWITCHES: Columns = {
    "at": pl.Int64,
    "action": pl.String,
    "channel": pl.Int64,
    "from": pl.Int64,
    "to": pl.Int64,
    "reason": pl.String,
}
GAPS: Columns = {"machine": pl.Int64, "start": pl.Int64, "end": pl.Int64}
SPANS: Columns = {
    "channel": pl.Int64,
    "machine": pl.Int64,
    "protect": pl.Int64,
    "state": pl.String,
    "start": pl.Int64,
    "end": pl.Int64,
}
COUNTS: Columns = {"channel": pl.Int64, "machine": pl.Int64, "what": pl.String, "at": pl.Int64}
TIMES: Columns = {
    "channel": pl.Int64,
    "machine": pl.Int64,
    "time": pl.String,
    "at": pl.Int64,
    "length": pl.Int64,
    "seen": pl.Boolean,
}
TABLES: dict[str, Columns] = {
    "events": EVENTS,
    "switches": SWITCHES,
    "gaps": GAPS,
    "spans": SPANS,
    "counts": COUNTS,
    "times": TIMES,
}


@dataclass(frozen=True)
class Shows:
    """Transmissions, an entry each: number, channel, air and protect machine, air window [start, end)."""

    number: Ints
    channel: Ints
    air: Ints
    protect: Ints
    start: Ints
    end: Ints

    def __len__(self) -> int:
        return len(self.number)

    def only(self, chosen: npt.NDArray[np.bool_]) -> Shows:
        """Those where ``chosen`` is true."""
        return Shows(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))


@dataclass
class Script:
    """The tables named in ``TABLES``, growing by blocks."""

    blocks: dict[str, list[pl.DataFrame]] = field(default_factory=lambda: {name: [] for name in TABLES})

    def table(self, name: str) -> pl.DataFrame:
        """Everything added to one table, in order of adding."""
        return pl.concat([pl.DataFrame(schema=TABLES[name]), *self.blocks[name]])

    def log(self, machine: Ints, at: Ints, event: str, *, value: object = "", detail: str = "") -> None:
        """A line in each machine's log."""
        self._add("events", machine, at, event, value, detail)

    def start(self, shows: Shows, at: Ints, machine: Ints) -> None:
        """A remote start command to each machine."""
        self._add("switches", at, "start", shows.channel, NOBODY, machine, "")

    def take(self, shows: Shows, at: Ints, ends: tuple[Ints | int, Ints | int], reason: object = "") -> None:
        """A take on each channel from one source to another."""
        self._add("switches", at, "take", shows.channel, *ends, reason)

    def hide(self, machine: Ints, start: Ints, end: Ints) -> None:
        """A stretch of a machine's log that was never saved."""
        self._add("gaps", machine, start, end)

    def state(self, shows: Shows, state: str, feeds: tuple[Ints | int, Ints | int], within: tuple[Ints, Ints]) -> None:
        """Air time in one state: who fed, who covered (or nobody), from when to when."""
        self._add("spans", shows.channel, *feeds, state, *within)

    def count(self, shows: Shows, what: str, at: Ints, machine: Ints) -> None:
        """Something that counts once, at its start, on a machine."""
        self._add("counts", shows.channel, machine, what, at)

    def took(
        self,
        shows: Shows,
        times: str,
        at: Ints,
        machine: Ints,
        *,
        until: Ints,
        since: Ints | None = None,
        seen: bool = True,
    ) -> None:
        """Times to recover, by name, of what began at ``at``: since then or an onset, until an end seen or not."""
        for time in times.split():
            self._add("times", shows.channel, machine, time, at, until - (at if since is None else since), seen)

    def _add(self, table: str, *columns: object) -> None:
        schema = TABLES[table]
        length = max((len(column) for column in columns if isinstance(column, np.ndarray)), default=0)
        wide = [column if isinstance(column, np.ndarray) else np.full(length, column) for column in columns]
        frame = pl.DataFrame([pl.Series(name, values) for name, values in zip(schema, wide, strict=True)])
        self.blocks[table].append(frame.select(pl.col(name).cast(kind) for name, kind in schema.items()))
