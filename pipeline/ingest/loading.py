"""Loads one file: reader by format, their columns to ours, typing by feed, and its rows into the database."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import polars as pl

from pipeline.errors import FeedError, missing_column
from pipeline.ingest.alike_rows import AlikeTyping
from pipeline.ingest.arrivals import Arrivals
from pipeline.ingest.batch import Batch, with_texts
from pipeline.ingest.find import FoundFile
from pipeline.ingest.ledger import Entry
from pipeline.ingest.mapping.feed_tables import SiteFeeds
from pipeline.ingest.mapping.mapping import check_mapped, map_batch
from pipeline.ingest.mapping.renumbering import normal_reels, renumber
from pipeline.ingest.readers import Tail, dialect_of, read_batches
from pipeline.ingest.rows import type_rows
from pipeline.ingest.timekeeping import reading_of, settle_folds, with_date_order
from pipeline.ingest.times.reading import Carry, Reading
from pipeline.settings import Settings
from pipeline.store import Store

VARYING = ("jsonl", "syslog", "calendar")  # formats whose rows need not all have the same columns
GROWING = ("csv", "jsonl")  # formats of which an appended line is a row more, whatever stands before it
OPEN_QUOTES = "The quotes do not balance"
ONE_BYTE_ENCODINGS = ("utf-8", "mixed", "windows-1252", "latin-1")


@dataclass
class Oddities:
    """What was met in a file that must be settled over all its rows, or keeps it from being read from its middle."""

    has_fold: bool = False
    has_open_quote: bool = False

    def look_at(self, kept: pl.DataFrame, aside: pl.DataFrame) -> None:
        """Note what these rows hold."""
        if "is_ambiguous" in kept.columns and kept["is_ambiguous"].any():
            self.has_fold = True
        if aside.height and aside["reason"].str.starts_with(OPEN_QUOTES).any():
            self.has_open_quote = True


@dataclass(frozen=True)
class Loader:
    """How the files of one site are read into ``store``; ``on_rows`` is told each file's name and rows read so far."""

    store: Store
    settings: Settings
    feeds: SiteFeeds
    on_rows: Callable[[str, int], None]
    arrivals: Arrivals

    def load(self, found: FoundFile, entry: Entry, tail: Tail | None = None) -> Entry:
        """Read the file into its feed's table and ``raw_set_aside``; returns ``entry`` with what was found.

        A file without a header, such as an empty one, has no rows. With ``tail`` only what was appended is read, and
        the counts of ``entry`` are added to.

        Raises:
            FeedError: it cannot be read as its name or its table says, or lacks a column that rows of this feed need.
        """
        if not entry.size_bytes and found.format != "sql":
            return entry
        reading = reading_of(found, self.settings, self.feeds)
        is_decided = found.table is not None and not reading.date_order
        if is_decided:
            reading = with_date_order(found, reading, (batch for _, batch in self._batches(found, tail)))
        carries = {column.name: Carry() for column in found.feed.columns if column.kind == "time"}
        oddities = Oddities()
        entry = self._load_rows(found, entry, reading, carries=carries, tail=tail, oddities=oddities)
        if oddities.has_fold:
            self.arrivals.flush()
            settle_folds(self.store, found, reading)
        if oddities.has_fold or tail is not None:
            self.arrivals.rising.forget(found.file)
        is_bound = oddities.has_fold or oddities.has_open_quote or is_decided
        is_bound = is_bound or any(carry.is_used for carry in carries.values())
        return entry if _may_grow(found) and not is_bound else replace(entry, headers=None)

    def _load_rows(
        self,
        found: FoundFile,
        entry: Entry,
        reading: Reading,
        *,
        carries: dict[str, Carry],
        tail: Tail | None,
        oddities: Oddities,
    ) -> Entry:
        headers: dict[str, None] | None = None
        last: tuple[str, ...] = ()
        read_count = entry.read_count
        typing = AlikeTyping(reading)
        self.on_rows(found.file, 0)
        for theirs, batch in self._batches(found, tail):
            if batch.headers or batch.read_count or found.format == "parquet":
                headers = (headers or {}) | dict.fromkeys(batch.headers)
            if found.format not in VARYING:
                check_headers(found, batch.headers)
            alike, left = typing.take(batch)
            kept, aside = type_rows(found.feed, left, reading, carries)
            oddities.look_at(kept, aside)
            self.arrivals.put_in(found, self._named(found, kept), aside, batch.findings, alike)
            read_count, last = read_count + batch.read_count, theirs or last
            self.on_rows(found.file, read_count)
        if headers is None:
            return entry
        check_headers(found, tuple(headers))
        before = (
            set((entry.missing_columns or "").split(",")) if tail else {column.name for column in found.feed.columns}
        )
        missing = [column.name for column in found.feed.columns if column.name in before and column.name not in headers]
        return replace(entry, read_count=read_count, missing_columns=",".join(missing), headers=json.dumps(last))

    def _batches(self, found: FoundFile, tail: Tail | None) -> Iterator[tuple[tuple[str, ...], Batch]]:
        """The headers of the file, and its rows in our columns."""
        table = found.table
        for batch in read_batches(found, tail, is_lean=True, finds_alike=not self.feeds.renumbered):
            if table is None:
                yield batch.headers, batch
                continue
            if found.format not in VARYING and batch.headers:
                check_mapped(found.file, batch.headers, table.mapping)
            whole = replace(batch, rows=with_texts(batch), delimiter="")
            mapped = map_batch(whole, found.feed, table.mapping, decimal=table.decimal, thousands=table.thousands)
            yield batch.headers, mapped

    def _named(self, found: FoundFile, kept: pl.DataFrame) -> pl.DataFrame:
        """``kept`` with machines and reels by the names they have now."""
        kept = renumber(found.feed, kept, self.feeds.renumbered)
        return normal_reels(found.feed, kept) if self.feeds.normal_reels else kept


def check_headers(found: FoundFile, headers: tuple[str, ...]) -> None:
    """Refuse a file whose headers lack a required column, or name one of ours in other letter case.

    Raises:
        FeedError: which column, and what the file has instead.
    """
    for column in found.feed.columns:
        if column.name in headers:
            continue
        for header in sorted(headers):
            if header.lower() == column.name:
                hint = f'Did you mean "{column.name}"? Column names are compared exactly.'
                raise FeedError(f'{found.file} has a column "{header}". {hint}')
        if column.is_required:
            raise missing_column(found.file, column.name, sorted(headers))


def _may_grow(found: FoundFile) -> bool:
    """Whether lines appended to the file can be read without those before, but for the header."""
    dialect = dialect_of(found)
    is_plain = dialect.encoding in ONE_BYTE_ENCODINGS and (found.format != "csv" or dialect.delimiter != "")
    return found.format in GROWING and not found.packing and is_plain
