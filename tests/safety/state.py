"""What a run left, read without any of its code: the tables, whether each file's rows are all there, and the pages."""

from __future__ import annotations

import hashlib
import shutil
import tempfile
from pathlib import Path
from typing import Any

import duckdb

WALL_CLOCK = {"loaded_at_utc", "modified_ns"}  # when a load was, and a file written, by the clock of the computer
OF_ITS_MOMENT = {"page_times"}  # which files it names depends on how long before they were written
FEEDS = ("events", "switches", "tickets", "bookings", "machines", "reels", "rulings")


def read_tables(database: Path) -> dict[str, Any]:
    """The digest of every table by name, and the account of every file: rows as read, rows that are there.

    Works on a copy, because opening a database finishes what a killed run began. ``broken`` says why it does not open.
    """
    if not database.exists():
        return {"tables": {}, "accounts": {}, "broken": ""}
    with tempfile.TemporaryDirectory() as folder:
        for path in (database, database.with_name(database.name + ".wal")):
            if path.exists():
                shutil.copy(path, folder)
        try:
            with duckdb.connect(str(Path(folder) / database.name)) as connection:
                return {"tables": _digests(connection), "accounts": _accounts(connection), "broken": ""}
        except duckdb.Error as error:
            return {"tables": {}, "accounts": {}, "broken": str(error)}


def alter(database: Path, statements: list[str]) -> None:
    """Run statements of somebody else's on the database."""
    with duckdb.connect(str(database)) as connection:
        for statement in statements:
            connection.execute(statement)


def read_files(folder: Path) -> dict[str, str]:
    """The digest of every file below a folder, hidden ones too, by its name there."""
    paths = (path for path in sorted(folder.rglob("*")) if path.is_file()) if folder.exists() else ()
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in paths}


def _digests(connection: duckdb.DuckDBPyConnection) -> dict[str, str]:
    columns: dict[str, list[tuple[str, str]]] = {}
    for table, column, kind in connection.execute(
        "select table_name, column_name, data_type from information_schema.columns"
        " order by table_name, ordinal_position"
    ).fetchall():
        columns.setdefault(table, []).append((column, kind))
    return {table: _digest(connection, table, named) for table, named in columns.items() if table not in OF_ITS_MOMENT}


def _digest(connection: duckdb.DuckDBPyConnection, table: str, columns: list[tuple[str, str]]) -> str:
    told = ", ".join(f'"{name}"' for name, _ in columns if name not in WALL_CLOCK)
    rows = connection.execute(f'select {told} from "{table}" order by all').fetchall()
    return hashlib.sha256(repr((columns, rows)).encode()).hexdigest()


def _accounts(connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[int | None, int]]:
    """Rows read as the ledger has them, and rows that stand in the tables, of every file that either knows."""
    tables = {row[0] for row in connection.execute("select table_name from information_schema.tables").fetchall()}
    kept = [f"raw_{feed}" for feed in FEEDS if f"raw_{feed}" in tables]
    counts: dict[str, int] = {}
    for table in [*kept, "raw_set_aside"] if "raw_set_aside" in tables else kept:
        for file, count in connection.execute(f"select file, count(*) from {table} group by file").fetchall():
            counts[file] = counts.get(file, 0) + count
    ledger = dict(connection.execute("select file, read_count from source_files").fetchall()) if kept else {}
    return {file: (ledger.get(file), counts.get(file, 0)) for file in {*counts, *ledger}}
