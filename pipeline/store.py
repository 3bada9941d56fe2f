"""The one door to the database: open in UTC, run a .sql file, read frames, write frames.

Nothing else imports duckdb. Frames go in and out as polars; a write travels as a Parquet file in the temporary folder,
so that no further library is needed for it.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

import duckdb
import polars as pl
import polars.selectors as cs

from pipeline.errors import StoreError

NAME = re.compile(r"[a-z][a-z0-9_]*")


class Store:
    """An open DuckDB file. Use as a context manager; closes, and rolls back what was not committed."""

    def __init__(self, path: Path, *, read_only: bool = False) -> None:
        """Open ``path``; with ``read_only`` it must exist.

        Raises:
            StoreError: another run holds the file, it is no DuckDB file, or its folder cannot be written.
        """
        self.path = path
        try:
            self._connection = duckdb.connect(str(path), read_only=read_only)
        except duckdb.Error as error:
            raise StoreError(_why_not_open(path, str(error).replace(str(path), ""))) from None
        self._is_new = not read_only and not self.value("select count(*) from information_schema.tables")
        self._connection.execute("set timezone = 'UTC'")
        # DuckDB 2.0.0 and 2.0.1 push a cast into the file reader and then drop the rows that do not cast, silently.
        self._connection.execute("set disabled_optimizers = 'type_pushdown'")

    def __enter__(self) -> Store:
        """Return the open store."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file; a new one that an error leaves before anything was committed is taken away again.

        New is a file that held no table once it was open: one that another run made meanwhile is never touched.
        """
        self._connection.close()
        if kind is not None and self._is_new:
            self.path.unlink(missing_ok=True)
            self.path.with_name(self.path.name + ".wal").unlink(missing_ok=True)

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All of what happens inside, or none of it."""
        self._connection.begin()
        try:
            yield
        except BaseException:
            self._connection.rollback()
            raise
        self._connection.commit()
        self._is_new = False

    def run(self, sql: str, parameters: list[Any] | None = None) -> None:
        """Run statements that return nothing."""
        self._connection.execute(sql, parameters or [])

    def read(self, sql: str, parameters: list[Any] | None = None) -> pl.DataFrame:
        """The result of one select as a frame; times are naive UTC, exact decimals become floats."""
        frame = pl.DataFrame(self._connection.sql(sql, params=parameters or []))
        return frame.with_columns(cs.decimal().cast(pl.Float64))

    def value(self, sql: str, parameters: list[Any] | None = None) -> Any:
        """The first cell of the first row of a select, or None."""
        rows = self._connection.execute(sql, parameters or []).fetchall()  # a result left half read blocks the next one
        return rows[0][0] if rows else None

    def has(self, table: str) -> bool:
        """Whether the table or view ``table`` exists."""
        return bool(self.value("select count(*) from information_schema.tables where table_name = ?", [table]))

    def build(self, table: str, select: str) -> None:
        """Make ``table`` anew from one select."""
        self.run(f"create or replace table {_checked(table)} as {select}")

    def write(self, table: str, frame: pl.DataFrame) -> None:
        """Make ``table`` anew from ``frame``."""
        with _as_parquet(frame) as path:
            self.run(f"create or replace table {_checked(table)} as select * from read_parquet('{path}')")

    def append(self, table: str, frame: pl.DataFrame) -> None:
        """Add the rows of ``frame`` to ``table`` by column name; the table must exist."""
        with _as_parquet(frame) as path:
            self.run(f"insert into {_checked(table)} by name select * from read_parquet('{path}')")

    def export(self, table: str, path: Path, *, order: str) -> None:
        """Write ``table`` to ``path`` as Parquet, in the order of the columns ``order``."""
        target = str(path).replace("'", "''")
        self.run(
            f"copy (select * from {_checked(table)} order by {order}) to '{target}' (format parquet, compression zstd)"
        )


@contextmanager
def _as_parquet(frame: pl.DataFrame) -> Iterator[str]:
    with tempfile.TemporaryDirectory(prefix="airhours-") as folder:
        path = Path(folder) / "frame.parquet"
        frame.write_parquet(path, compression="lz4")
        yield str(path).replace("'", "''")


def _checked(table: str) -> str:
    if not NAME.fullmatch(table):
        raise StoreError(f'"{table}" is not a table name. Expected small letters, digits and underscores.')
    return table


def _why_not_open(path: Path, message: str) -> str:
    if "lock" in message.lower():
        return f"{path} is in use by another run. Wait until it has ended, or name another file with --database."
    if "does not exist" in message.lower() or "no such file" in message.lower():
        return f"{path} does not exist or its folder cannot be written. Make the folder, or name another."
    if "not a valid duckdb" in message.lower():
        return f"{path} is not an airhours database. Move it away and run again: it is made anew from the feeds."
    return f"{path} cannot be opened: {message.splitlines()[0]}. Check the folder's rights and free space."
