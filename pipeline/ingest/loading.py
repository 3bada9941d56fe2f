"""Loads one file: reader by format, typing by feed, header checks, and its rows into the database batch by batch."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from pipeline.errors import FeedError, missing_column
from pipeline.ingest.batch import Batch
from pipeline.ingest.csv_reader import read_csv
from pipeline.ingest.feeds import Feed
from pipeline.ingest.find import FoundFile
from pipeline.ingest.jsonl_reader import read_jsonl
from pipeline.ingest.ledger import Entry, put_in
from pipeline.ingest.lines import open_text
from pipeline.ingest.parquet_reader import read_parquet
from pipeline.ingest.rows import type_rows
from pipeline.store import Store


def load_file(store: Store, found: FoundFile, sha256: str, size_bytes: int, *, zone: ZoneInfo) -> Entry:
    """Read the file into its feed's table and ``raw_set_aside``, and return its entry for the ledger.

    ``zone`` is that of stamps without an offset. A file without a header, such as an empty one, has no rows.

    Raises:
        FeedError: it cannot be read as its name says, or lacks a column that rows of this feed need.
    """
    headers: set[str] | None = None
    read_count = 0
    for batch in _batches(found) if size_bytes else ():
        if batch.headers or batch.read_count or found.format == "parquet":
            headers = (headers or set()) | set(batch.headers)
        if found.format != "jsonl":
            check_headers(found, batch.headers)
        kept, aside = type_rows(found.feed, batch, zone)
        put_in(store, found, kept, aside)
        read_count += batch.read_count
    if headers is None:
        return Entry(found.file, found.feed.name, sha256, 0, None)
    check_headers(found, headers)
    return Entry(found.file, found.feed.name, sha256, read_count, _missing(found.feed, headers))


def check_headers(found: FoundFile, headers: set[str] | tuple[str, ...]) -> None:
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


def _batches(found: FoundFile) -> Iterator[Batch]:
    if found.format == "parquet":
        yield from read_parquet(found)
        return
    with open_text(found) as stream:
        yield from read_csv(stream, found.file) if found.format == "csv" else read_jsonl(stream, found.file)


def _missing(feed: Feed, headers: set[str]) -> str:
    return ",".join(column.name for column in feed.columns if column.name not in headers)
