"""The tables of a database as values, read with the engine alone and none of the program's code."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import duckdb

from pipeline.places import DATABASE

OF_ITS_MOMENT = {"page_times"}  # which files it names depends on how long before they were written
OF_STORAGE = OF_ITS_MOMENT | {"archived_parts", "archived_files", "raw_event_rows"}  # how rows are stored
Rows = list[tuple[Any, ...]]


def read_all(database: Path, *, without: Iterable[str] = ()) -> dict[str, tuple[list[tuple[str, str]], Rows]]:
    """By table its columns in order with their types, and its rows sorted; columns named in ``without`` left out."""
    left_out = set(without)
    with duckdb.connect(str(database), read_only=True) as connection:
        named = connection.execute(
            "select table_name, column_name, data_type from information_schema.columns"
            " order by table_name, ordinal_position"
        ).fetchall()
        tables: dict[str, list[tuple[str, str]]] = {}
        for table, column, kind in named:
            if column not in left_out and table not in OF_ITS_MOMENT:
                tables.setdefault(table, []).append((column, kind))
        return {table: (columns, _rows(connection, table, columns)) for table, columns in tables.items()}


def _rows(connection: duckdb.DuckDBPyConnection, table: str, columns: list[tuple[str, str]]) -> Rows:
    told = ", ".join('"' + name.replace('"', '""') + '"' for name, _ in columns)
    return connection.execute(f'select {told} from "{table}" order by all').fetchall()


def run_sql(database: Path, *statements: str) -> None:
    """Other hands at the database."""
    with duckdb.connect(str(database)) as connection:
        for statement in statements:
            connection.execute(statement)


def seen(site: Path) -> dict[str, Any]:
    """All tables and views as whoever reads them sees them; the engine is told where the parts lie."""
    with duckdb.connect(str(site / DATABASE), read_only=True) as connection:
        connection.execute(f"set file_search_path = '{site}'")
        names = connection.execute("select table_name from information_schema.tables order by all").fetchall()
        return {
            name: connection.execute(f"select * from {name} order by all").fetchall()
            for (name,) in names
            if name not in OF_STORAGE
        }
