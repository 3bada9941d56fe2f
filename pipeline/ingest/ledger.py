"""Keeps the database equal to what the folder holds: which files are in it, with which bytes and how many rows.

Every row read is in a feed's table or in ``raw_set_aside``; ``check_arrivals`` counts both as they stand in the
database, because an engine that loses a row does not say so.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.errors import StoreError
from pipeline.ingest.feeds import FEEDS, Feed
from pipeline.ingest.find import FoundFile
from pipeline.store import Store

FILE_COLUMNS = (
    ("file", "VARCHAR"),
    ("feed", "VARCHAR"),
    ("format", "VARCHAR"),
    ("sha256", "VARCHAR"),
    ("size_bytes", "BIGINT"),
    ("read_count", "BIGINT"),
    ("missing_columns", "VARCHAR"),
)
ASIDE_COLUMNS = (
    ("feed", "VARCHAR"),
    ("file", "VARCHAR"),
    ("line", "BIGINT"),
    ("reason", "VARCHAR"),
    ("text", "VARCHAR"),
)


@dataclass(frozen=True)
class Entry:
    """What the ledger says of a file. ``missing_columns`` is None where the file holds no header at all."""

    file: str
    feed: str
    sha256: str
    read_count: int
    missing_columns: str | None


def open_tables(store: Store) -> None:
    """Make ``source_files`` (one row a file), ``raw_set_aside`` and a table a feed (one row a line) if missing."""
    for table, columns in (
        ("source_files", FILE_COLUMNS),
        ("raw_set_aside", ASIDE_COLUMNS),
        *((feed.table, feed.table_columns) for feed in FEEDS),
    ):
        wanted = ", ".join(f'"{name}" {sql_type}' for name, sql_type in columns)
        store.run(f"create table if not exists {table} ({wanted})")


def read_ledger(store: Store) -> dict[str, Entry]:
    """The entries of ``source_files`` by file."""
    rows = store.read("select file, feed, sha256, read_count, missing_columns from source_files order by file")
    return {row["file"]: Entry(**row) for row in rows.iter_rows(named=True)}


def take_out(store: Store, entry: Entry) -> None:
    """Delete all rows that came from the file, and its entry."""
    for table in (f"raw_{entry.feed}", "raw_set_aside", "source_files"):
        store.run(f"delete from {table} where file = ?", [entry.file])


def put_in(store: Store, found: FoundFile, kept: pl.DataFrame, aside: pl.DataFrame) -> None:
    """Append typed rows and rows set aside of one file."""
    if kept.height:
        store.append(found.feed.table, kept.with_columns(pl.lit(found.file).alias("file")))
    if aside.height:
        named = aside.with_columns(pl.lit(found.feed.name).alias("feed"), pl.lit(found.file).alias("file"))
        store.append("raw_set_aside", named)


def enter(store: Store, found: FoundFile, size_bytes: int, entry: Entry) -> None:
    """Write the file's entry."""
    values = [
        entry.file,
        entry.feed,
        found.format_name,
        entry.sha256,
        size_bytes,
        entry.read_count,
        entry.missing_columns,
    ]
    store.run(f"insert into source_files values ({', '.join('?' * len(values))})", list(values))


def check_arrivals(store: Store) -> None:
    """Compare, file by file, the rows read with the rows that stand in the database.

    Raises:
        StoreError: they differ.
    """
    tables = " union all ".join(f"select file from {table}" for table in (*(f.table for f in FEEDS), "raw_set_aside"))
    rows = store.read(
        f"""
        with stored as (select file, count(*) as stored_count from ({tables}) group by file)
        select file, read_count, coalesce(stored_count, 0) as stored_count
        from source_files full join stored using (file)
        where read_count is distinct from coalesce(stored_count, 0)
        order by file
        """
    )
    for file, read_count, stored_count in rows.iter_rows():
        lost = (read_count or 0) - stored_count
        what = f"{lost} rows of {file} did not arrive" if lost > 0 else f"{-lost} rows of {file} are too many"
        raise StoreError(
            f"{what} in the database. Move {store.path} away and run again: it is made anew from the feeds."
        )


def has_rows(store: Store, *feeds: Feed) -> bool:
    """Whether any of the feeds has a readable row."""
    return any(store.value(f"select 1 from {feed.table} limit 1") for feed in feeds)
