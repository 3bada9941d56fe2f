"""Takes typed rows into the database while the next ones are read: the engine works in a thread of its own.

Whoever else wants the database asks for it here, so that no two use it at once and nothing arrives after a failure.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from types import TracebackType

import polars as pl

from pipeline.ingest import event_rows
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.ledger import Entry, enter
from pipeline.ingest.rising import Rising
from pipeline.store import Store

HELD_AT_MOST = 500_000  # rows of events, some tens of bytes each; as many again may be on their way
ASIDE_AT_MOST = 8 << 20  # bytes of rows set aside, whose texts may be long


@dataclass
class Arrivals:
    """Typed rows, rows set aside, findings and entries on their way into the database, some still held in memory.

    Mutable. Use as a context manager: leaving it waits for what is on its way, and after an error lets go of the rest.
    Events are gathered over files, since the engine takes a few large frames faster than many small ones; ``rising``
    notes of their stamps what a search for repeats need not look at.
    """

    store: Store
    rising: Rising = field(default_factory=Rising)
    _held: list[pl.DataFrame] = field(default_factory=list)
    _aside: list[pl.DataFrame] = field(default_factory=list)
    _entries: list[Entry] = field(default_factory=list)
    _pool: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "arrivals"))
    _written: Future[None] | None = None

    def __enter__(self) -> Arrivals:
        """Return the arrivals."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let nothing arrive from now on."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def put_in(
        self,
        found: FoundFile,
        kept: pl.DataFrame,
        aside: pl.DataFrame,
        findings: pl.DataFrame,
        alike: pl.DataFrame | None = None,
    ) -> None:
        """Append typed rows, rows set aside and findings of one file; ``alike`` are events that are lean already."""
        file, feed = pl.lit(found.file).alias("file"), pl.lit(found.feed.name).alias("feed")
        if found.feed is EVENTS:
            self._hold(found.file, kept, alike)
        elif kept.height:
            self.settled().append(found.feed.table, kept.with_columns(file))
        if aside.height:
            self._aside.append(aside.with_columns(feed, file))
            if sum(frame.estimated_size() for frame in self._aside) >= ASIDE_AT_MOST:
                self._send()
        if findings.height:
            self.settled().append("raw_findings", findings.with_columns(feed, file))

    def enter(self, entry: Entry) -> None:
        """Have the entry of a file written when all is flushed."""
        self._entries.append(entry)

    def flush(self) -> None:
        """Write what is held, and wait until it is written."""
        self._send()
        enter(self.settled(), self._entries)
        self._entries.clear()

    def settled(self) -> Store:
        """The database, once nothing is on its way into it.

        Raises:
            StoreError: what was on its way could not be written.
        """
        written, self._written = self._written, None
        if written is not None:
            written.result()
        return self.store

    def _hold(self, file: str, kept: pl.DataFrame, alike: pl.DataFrame | None) -> None:
        rows = [] if alike is None else [alike]
        if kept.height:
            rows.append(event_rows.lean_rows(kept))
        if rows:
            frame = rows[0] if len(rows) == 1 else pl.concat(rows, how="diagonal").sort("line")
            self.rising.note(file, frame)
            self._held.append(frame.with_columns(pl.lit(file).alias("file")))
            if sum(each.height for each in self._held) >= HELD_AT_MOST:
                self._send()

    def _send(self) -> None:
        if self._held or self._aside:
            self.settled()
            self._written = self._pool.submit(_append, self.store, tuple(self._held), tuple(self._aside))
            self._held.clear()
            self._aside.clear()


def _append(store: Store, events: Sequence[pl.DataFrame], aside: Sequence[pl.DataFrame]) -> None:
    if events:
        store.append(event_rows.TABLE, pl.concat(events, how="diagonal"))
    if aside:
        store.append("raw_set_aside", pl.concat(aside))
