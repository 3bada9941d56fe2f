"""Carries tables between the database and Spark: Parquet files in a work folder that both can read."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from pipeline.sql_files import Model
from pipeline.store import Store

# Kinds that Spark does not read, or reads as another: what they go as.
GOES_AS = {"HUGEINT": "decimal(38, 0)", "UBIGINT": "decimal(20, 0)", "UINTEGER": "bigint", "USMALLINT": "integer"}
GOES_AS |= {"UTINYINT": "smallint", "TIMESTAMP WITH TIME ZONE": "timestamp"}
STAMPS = {"raw_events": "stamped_at_utc", "raw_switches": "at_utc"}  # the feeds that grow with every month
PARTITIONED_ROWS = 1_000_000
MONTH = "part_month"


def write_out(store: Store, table: str, folder: Path) -> Path:
    """Write ``table`` to ``folder`` as Parquet for Spark; returns the file, or the folder of its months.

    A feed that grows with the months is laid out by month where it has more than a million rows.
    """
    columns = ", ".join(_going(name, kind) for name, kind in store.tables()[table].items())
    target = folder / f"{table}.parquet"
    stamp = STAMPS.get(table)
    if stamp and int(store.value(f"select count(*) from {table}")) > PARTITIONED_ROWS:
        store.run(
            f"copy (select {columns}, strftime({stamp}, '%Y-%m') as {MONTH} from {table}) to '{_quoted(target)}'"
            f" (format parquet, compression zstd, partition_by ({MONTH}), overwrite)"
        )
    else:
        store.copy_out(f"select {columns} from {table}", target)
    return target


def show(session: Any, name: str, path: Path, schema: Any = None) -> None:
    """Let selects on ``session`` read the Parquet at ``path`` as ``name``; without a schema it is read from a file."""
    reader = session.read if schema is None else session.read.schema(schema)
    reader.parquet(path.as_uri()).drop(MONTH).createOrReplaceTempView(name)


def keep(frame: Any, path: Path) -> Any:
    """Write a frame of Spark to ``path`` and return its schema; spans of time are whole microseconds in the file."""
    from pyspark.sql import functions
    from pyspark.sql.types import DayTimeIntervalType, NullType

    for field in frame.schema.fields:
        if isinstance(field.dataType, NullType):
            frame = frame.withColumn(field.name, functions.lit(None).cast("string"))
        elif isinstance(field.dataType, DayTimeIntervalType):
            frame = frame.withColumn(field.name, functions.col(field.name).cast("interval day to second"))
    frame.write.mode("overwrite").option("compression", "zstd").parquet(path.as_uri())
    return frame.schema


def bring_back(store: Store, model: Model, path: Path) -> None:
    """Make the table of ``model`` anew with its columns' kinds in the database and the rows at ``path``, by its key.

    One that is stored as a view is a view here too: what it reads is here, and it gives the same rows.
    """
    if model.is_view:
        store.build(model.name, model.sql, is_view=True)
        return
    store.build(model.name, f"select * from ({model.sql}) as model limit 0")
    load_rows(store, model.name, path, order=model.key)


def load_rows(store: Store, table: str, path: Path, *, order: tuple[str, ...] = ()) -> None:
    """Add the rows that Spark wrote at ``path`` to ``table``, as the kinds its columns have."""
    columns = store.tables()[table]
    listed = ", ".join(f'"{name}"' for name in columns)
    values = ", ".join(_coming(name, kind) for name, kind in columns.items())
    by = f" order by {', '.join(order)}" if order else ""
    store.run(f"insert into {table} ({listed}) select {values} from read_parquet('{_quoted(path)}/*.parquet'){by}")


def _going(name: str, kind: str) -> str:
    if kind.startswith("ENUM"):
        return f'cast("{name}" as varchar) as "{name}"'
    return f'cast("{name}" as {GOES_AS[kind]}) as "{name}"' if kind in GOES_AS else f'"{name}"'


def _coming(name: str, kind: str) -> str:
    if kind == "INTERVAL":  # Spark's files hold whole microseconds
        return f'to_microseconds(cast("{name}" as bigint))'
    return f'cast("{name}" as {kind})'


def _quoted(path: Path) -> str:
    return re.sub("'", "''", str(path))
