"""Gives the disk space of deleted rows back: the engine uses it again but never makes its file smaller.

Every table is copied into a new file in the order of its key, events by machine and time, so that like stands by like
and takes less room; then the new file takes the old one's place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import StoreError
from pipeline.keeping.holding import FRESH, attached, database_of, drafts_beside, held, put_in_place
from pipeline.keeping.room import event_lines
from pipeline.sql_files import read_models
from pipeline.store import Store

BY_TIME = ("stamped_at_utc", "at_utc")
ROW = ("file", "line")


@dataclass(frozen=True)
class Compacted:
    """A database before and after: bytes of its file, and lines of the machines' logs that it holds."""

    database: Path
    was_bytes: int
    is_bytes: int
    event_lines: int


def compact(site: Path, database: Path | None = None) -> Compacted:
    """Write the database of ``site`` anew without the space of deleted rows; every table keeps its rows.

    Needs as much free disk as the tables take. A process that is killed leaves the old file or the new one.

    Raises:
        StoreError: there is none, another run holds it, or the disk is full.
    """
    path = database_of(site, database)
    with held(path) as store:
        was_bytes, place = path.stat().st_size, path.resolve()
        with drafts_beside(place) as folder:
            draft = folder / "new.duckdb"
            with attached(store, draft):
                copy_tables(store)
            is_bytes = draft.stat().st_size
            lines = event_lines(store)
            put_in_place(store, draft)
    return Compacted(path, was_bytes, is_bytes, lines)


def copy_tables(store: Store) -> None:
    """Copy all that ``store`` holds into the attached draft, each table in its order.

    Raises:
        StoreError: a table did not arrive whole.
    """
    own = store.value("select current_database()")
    store.run(f'copy from database "{own}" to {FRESH} (schema)')
    names = store.read(
        "select table_name from duckdb_tables() where database_name = ? and schema_name = 'main' order by all", [own]
    )
    keys, tables = {model.name: model.key for model in read_models()}, store.tables()
    for table in names["table_name"]:
        order = order_of(table, tables[table], keys)
        store.run(f'insert into {FRESH}.main."{table}" select * from "{own}".main."{table}"{order}')
        copied, there = (store.value(f'select count(*) from {name}.main."{table}"') for name in (FRESH, f'"{own}"'))
        if copied != there:
            raise StoreError(f"{table} did not arrive whole in the new file; {store.path} stays as it was. Run again.")


def order_of(table: str, columns: Mapping[str, str], keys: Mapping[str, tuple[str, ...]]) -> str:
    """The end of the select that reads ``table``: rows of machines by machine and time, others by key, file and line.

    What has none of these stays in the order it is in. By the names of columns alone.
    """
    times = [name for name in BY_TIME if name in columns]
    rows = [name for name in ROW if name in columns]
    key = [name for name in keys.get(table, ()) if name in columns]
    by = [*(["machine", *times[:1]] if "machine" in columns and times else key), *rows]
    named = ", ".join(f'"{name}"' for name in dict.fromkeys(by))
    return f" order by {named}" if named else ""
