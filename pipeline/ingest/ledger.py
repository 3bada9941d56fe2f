"""Keeps the database equal to what the folder holds: which files are in it, with which bytes and how many rows.

Every row read is in a feed's table or in ``raw_set_aside``; ``check_arrivals`` counts both as they stand in the
database, because an engine that loses a row does not say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

import polars as pl

from pipeline.errors import StoreError, foreign_database
from pipeline.ingest import event_rows, repeats
from pipeline.ingest.archived import forget_archived
from pipeline.ingest.feeds import EVENTS, FEEDS, Feed
from pipeline.results import FileLoad
from pipeline.store import Store

FILE_COLUMNS = (
    ("file", "VARCHAR"),
    ("feed", "VARCHAR"),
    ("format", "VARCHAR"),
    ("sha256", "VARCHAR"),
    ("size_bytes", "BIGINT"),
    ("read_count", "BIGINT"),
    ("missing_columns", "VARCHAR"),
    ("reading", "VARCHAR"),
    ("headers", "VARCHAR"),
    ("is_mapped", "BOOLEAN"),
)
ASIDE_COLUMNS = (
    ("feed", "VARCHAR"),
    ("file", "VARCHAR"),
    ("line", "BIGINT"),
    ("reason", "VARCHAR"),
    ("text", "VARCHAR"),
)
FINDING_COLUMNS = (
    ("feed", "VARCHAR"),
    ("file", "VARCHAR"),
    ("line", "BIGINT"),
    ("kind", "VARCHAR"),
    ("what", "VARCHAR"),
)
TIME_COLUMNS = (("file", "VARCHAR"), ("size_bytes", "BIGINT"), ("modified_ns", "BIGINT"))
WITHDRAWN_COLUMNS = (("file", "VARCHAR"), ("sha256", "VARCHAR"))
HISTORY_COLUMNS = (
    ("load_no", "BIGINT"),
    ("loaded_at_utc", "TIMESTAMP"),
    ("file", "VARCHAR"),
    ("feed", "VARCHAR"),
    ("action", "VARCHAR"),
    ("sha256", "VARCHAR"),
    ("was_sha256", "VARCHAR"),
    ("rows_count", "BIGINT"),
)
ENTRIES = pl.Schema(
    {name: {"BIGINT": pl.Int64, "BOOLEAN": pl.Boolean}.get(sql_type, pl.String)() for name, sql_type in FILE_COLUMNS}
)
HISTORY = pl.Schema(
    {
        **dict.fromkeys(("file", "feed", "action", "sha256", "was_sha256"), pl.String()),
        "rows_count": pl.Int64(),
    }
)
TIMES = "source_file_times"
TABLES = (
    ("source_files", FILE_COLUMNS),
    (TIMES, TIME_COLUMNS),
    ("raw_set_aside", ASIDE_COLUMNS),
    ("raw_findings", FINDING_COLUMNS),
    ("withdrawn_files", WITHDRAWN_COLUMNS),
    ("load_history", HISTORY_COLUMNS),
    (event_rows.TABLE, event_rows.COLUMNS),
    (repeats.TABLE, repeats.COLUMNS),
    *((feed.table, feed.table_columns) for feed in FEEDS if feed is not EVENTS),
)
LEDGER_NAMES = {"file", "feed", "format", "sha256", "size_bytes", "read_count"}  # of every version's source_files
KEPT = {"withdrawn_files", "load_history"}  # not in the feeds, so that reading them again would not bring it back


@dataclass(frozen=True)
class Entry:
    """What the ledger says of a file.

    ``missing_columns`` is None where the file holds no header at all. ``reading`` is one word for how it was read: its
    [[feeds]] table, its zone and this program's readers. ``headers`` is the last header line as JSON,
    in their words; None where the file must be read anew when it grows. ``is_mapped``: a [[feeds]]
    table names the file.
    """

    file: str
    feed: str
    format: str
    sha256: str
    size_bytes: int
    read_count: int
    missing_columns: str | None
    reading: str
    headers: str | None
    is_mapped: bool


def open_tables(store: Store) -> None:
    """Make the tables of the loading if missing: one row a file, a row set aside, a finding, a load, a readable row.

    If a table has other columns than here, the database is of another version: its rows are dropped, so that every file
    is read again. What a person took out and what loads there were is kept where those tables are as here.

    Raises:
        StoreError: the database holds tables and no ledger, so that another program made it.
    """
    there = store.tables()
    if there and not LEDGER_NAMES.issubset(there.get("source_files", {})):
        raise foreign_database(str(store.path), there)
    if any(there.get(table) != dict(columns) for table, columns in TABLES if there):
        for table, columns in TABLES:
            if table not in KEPT or there.get(table) != dict(columns):
                store.run(f"drop table if exists {table}")
    for table, columns in TABLES:
        wanted = ", ".join(f'"{name}" {sql_type}' for name, sql_type in columns)
        store.run(f"create table if not exists {table} ({wanted})")
    event_rows.make_view(store)


def read_ledger(store: Store) -> dict[str, Entry]:
    """The entries of ``source_files`` by file."""
    rows = store.read("select * from source_files order by file")
    return {row["file"]: Entry(**row) for row in rows.iter_rows(named=True)}


def read_withdrawn(store: Store) -> set[tuple[str, str]]:
    """File and sha256 of what a person took out: these bytes stay out until they are put back."""
    return set(store.read("select file, sha256 from withdrawn_files").iter_rows())


def withdraw(store: Store, file: str) -> bool:
    """Have the next load take ``file`` out again, and leave these bytes out from then on; False if it is not loaded."""
    open_tables(store)
    entry = read_ledger(store).get(file)
    if entry is not None:
        store.run("insert into withdrawn_files values (?, ?)", [file, entry.sha256])
    return entry is not None


def put_back(store: Store, file: str) -> bool:
    """Have the next load take ``file`` in again; False if it was not withdrawn."""
    open_tables(store)
    known = store.value("select 1 from withdrawn_files where file = ?", [file])
    if known:
        store.run("delete from withdrawn_files where file = ?", [file])
    return bool(known)


def with_rows_set_aside(store: Store) -> frozenset[str]:
    """The files that hold a row which could not be read."""
    open_tables(store)
    return frozenset(store.read("select distinct file from raw_set_aside").to_series())


def take_out(store: Store, entry: Entry) -> None:
    """Delete all rows that came from the file, what was found of it, and its entry."""
    rows = event_rows.TABLE if entry.feed == EVENTS.name else f"raw_{entry.feed}"
    for table in (rows, "raw_set_aside", "raw_findings", "source_files"):
        store.run(f"delete from {table} where file = ?", [entry.file])
    forget_archived(store, entry.file)


def enter(store: Store, entries: Sequence[Entry]) -> None:
    """Write the entries of files, in the place of earlier ones."""
    if entries:
        names = [entry.file for entry in entries]
        store.run("delete from source_files where file in (select unnest(?::varchar[]))", [names])
        store.append("source_files", pl.DataFrame([asdict(entry) for entry in entries], schema=ENTRIES))


def write_history(store: Store, loads: Iterable[FileLoad]) -> None:
    """Add what this load did to ``load_history``, under the next number; unchanged files are not listed.

    ``loaded_at_utc`` is the clock of the database, and reaches no report.
    """
    rows = [
        (load.file, load.feed, load.action, load.sha256, load.was_sha256, load.rows)
        for load in loads
        if load.action != "unchanged"
    ]
    if rows:
        number = store.value("select coalesce(max(load_no), 0) + 1 from load_history")
        now = store.value("select cast(current_timestamp as timestamp)")
        told = pl.DataFrame(rows, schema=HISTORY, orient="row")
        store.append("load_history", told.with_columns(load_no=pl.lit(number), loaded_at_utc=pl.lit(now)))


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
