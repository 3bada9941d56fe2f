"""The one door to the database: open in UTC, run a .sql file, read frames, write frames.

Nothing else imports duckdb. Frames go in and out as polars; a write travels as a stream of Arrow, so that no further
library and no file is needed for it. What does not fit into the engine's memory goes to a folder beside the file. A
process may be killed anywhere here: a new file appears whole or not at all, and what a killed run left lying about is
taken away by the next one that holds the file.
"""

from __future__ import annotations

import glob
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from types import TracebackType
from typing import Any

import duckdb
import polars as pl
import polars.selectors as cs
from polars.exceptions import PolarsError

from pipeline.errors import StoreError
from pipeline.machine import READING, engine_memory, engine_threads
from pipeline.places import DATABASE
from pipeline.store_words import not_open, why_not_done

Connection = duckdb.DuckDBPyConnection
NAME = re.compile(r"[a-z][a-z0-9_]*")
STREAM = "frame_in_memory"
DRAFT = ".airhours-"  # how the names of things begin that a killed run may leave behind
# A file of another program must not send the engine to the network for what would read it.
OFFLINE: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": False,
}


class Store:
    """An open DuckDB file. Use as a context manager; closes, and rolls back what was not committed."""

    def __init__(self, path: Path, *, read_only: bool = False) -> None:
        """Open ``path``; with ``read_only`` it must exist.

        Raises:
            StoreError: another run holds the file (BusyStoreError), it is no DuckDB file, or its folder is read-only.
        """
        self.path = path
        self._is_changed = False
        try:
            self._connection = _connect(path, read_only=read_only)
        except (duckdb.Error, OSError) as error:
            message = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            raise not_open(path, message.replace(str(path), "")) from None
        self._is_new = not read_only and not self.value("select count(*) from information_schema.tables")
        self._drafts = f"airhours-{sha256(os.fsencode(path.absolute())).hexdigest()[:12]}-"
        if not read_only and path.is_file():
            _sweep(path, self._drafts)
        self._bound()
        self._connection.execute("set timezone = 'UTC'")
        # DuckDB 2.0.0 and 2.0.1 push a cast into the file reader and then drop the rows that do not cast, silently.
        self._connection.execute("set disabled_optimizers = 'type_pushdown'")
        self.look_into_archive()

    def __enter__(self) -> Store:
        """Return the open store."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file; a new one that an error leaves before anything was committed is taken away again.

        New is a file that held no table once it was open: one that another run made meanwhile is never touched.
        """
        is_left = kind is not None and self._is_new
        if is_left:  # while it is still held, so that no other run can have begun in it
            is_left = not _take_away(self.path)
        self._connection.close()
        if is_left:  # a system that lets no open file go keeps one that another run has opened meanwhile
            _take_away(self.path)

    def _bound(self) -> None:
        """Keep the engine within its share of the machine, and what it spills where the next run clears it away."""
        spill = Path(tempfile.gettempdir()) / f"{self._drafts}{os.getpid()}"
        if self.path.is_file() and os.access(self.path.parent, os.W_OK):
            spill = self.path.parent / f"{DRAFT}{self.path.name}-{os.getpid()}"
        folder = str(spill).replace("'", "''")
        self._connection.execute(f"set memory_limit = '{engine_memory()}'")
        self._connection.execute(f"set threads = {engine_threads()}")
        self._connection.execute(f"set temp_directory = '{folder}'")

    def another(self) -> Connection:
        """Another connection to the same file, in UTC, for whoever asked to close; its errors are the engine's."""
        opened = self._connection.cursor().execute("set timezone = 'UTC'")
        _look_into_archive(opened, self.path)
        return opened

    def look_into_archive(self) -> None:
        """Have the archive beside the file found by the names that the file has for its parts."""
        _look_into_archive(self._connection, self.path)

    def hold_less(self) -> None:
        """Have the engine let go of what it holds beyond what reading a few rows at a time needs, where it can."""
        with suppress(duckdb.Error):
            self._connection.execute(f"set memory_limit = '{engine_memory(READING)}'")

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All of what happens inside, or none of it.

        Raises:
            StoreError: the disk is full, or the file is damaged; so do the methods below.
        """
        self._connection.begin()
        try:
            yield
        except BaseException:
            with suppress(duckdb.Error):  # after a grave error there is nothing left to roll back
                self._connection.rollback()
            raise
        with self._in_plain_words():
            self._connection.commit()
        self._is_new, self._is_changed = False, True

    def run(self, sql: str, parameters: list[Any] | dict[str, Any] | None = None) -> None:
        """Run statements that return nothing."""
        with self._in_plain_words():
            self._connection.execute(sql, parameters or [])

    def read(self, sql: str, parameters: list[Any] | None = None) -> pl.DataFrame:
        """The result of one select as a frame; times are naive UTC, exact decimals become floats."""
        with self._in_plain_words():
            frame = pl.DataFrame(self._connection.sql(sql, params=parameters or []))
        return frame.with_columns(cs.decimal().cast(pl.Float64))

    def value(self, sql: str, parameters: list[Any] | None = None) -> Any:
        """The first cell of the first row of a select, or None."""
        with self._in_plain_words():  # all rows, because a result left half read blocks the next one
            rows = self._connection.execute(sql, parameters or []).fetchall()
        return rows[0][0] if rows else None

    def has(self, table: str) -> bool:
        """Whether the table or view ``table`` exists."""
        return bool(self.value("select count(*) from information_schema.tables where table_name = ?", [table]))

    def tables(self) -> dict[str, dict[str, str]]:
        """Name and type of each column of each table and view by its name; one in a schema is named with it."""
        rows = self.read(
            "select if(table_schema = 'main', table_name, table_schema || '.' || table_name), column_name, data_type"
            " from information_schema.columns order by all"
        )
        found: dict[str, dict[str, str]] = {}
        for table, column, sql_type in rows.iter_rows():
            found.setdefault(table, {})[column] = sql_type
        return found

    def columns(self, table: str) -> dict[str, str]:
        """Name and type of each column of one table or view; empty where it is not there."""
        columns = (
            "select column_name, data_type from information_schema.columns"
            " where table_schema = 'main' and table_name = ? order by ordinal_position"
        )
        return dict(self.read(columns, [table]).rows())

    def build(self, table: str, select: str, *, is_view: bool = False) -> None:
        """Make ``table`` anew from one select: as a table, or as a view that is worked out whenever it is read."""
        kind, other = ("view", "table") if is_view else ("table", "view")
        named = f"select 1 from duckdb_{other}s() where {other}_name = ?"
        if self.value(named, [table]):
            self.run(f"drop {other} {_checked(table)}")
        self.run(f"create or replace {kind} {_checked(table)} as {select}")

    @contextmanager
    def aside(self, schema: str) -> Iterator[None]:
        """A passing ``schema``: inside, what is made without naming one is made there, and names are looked for there
        first. It is gone afterwards. A view of the file keeps reading what it read before.
        """
        with self.beside(schema):
            self.run(f"set search_path = '{schema},main'")
            try:
                yield
            finally:
                with suppress(duckdb.Error):  # after a grave error the transaction is gone, and the schema with it
                    self._connection.execute("set search_path = 'main'")

    @contextmanager
    def beside(self, schema: str) -> Iterator[None]:
        """A passing ``schema`` for tables that are named with it; it is gone afterwards."""
        self.run(f"create schema {_checked(schema)}")
        yield
        tables = "select table_name from information_schema.tables where table_schema = ? order by all"
        for table in self.read(tables, [schema])["table_name"]:  # one by one: dropped with it, they would not commit
            self.run(f"drop table {schema}.{_checked(table)}")
        self.run(f"drop schema {schema}")

    def write(self, table: str, frame: pl.DataFrame) -> None:
        """Make ``table`` anew from ``frame``."""
        with self._as_stream(frame) as name:
            self.run(f"create or replace table {_checked(table)} as select * from {name}")

    def append(self, table: str, frame: pl.DataFrame) -> None:
        """Add the rows of ``frame`` to ``table`` by column name; the table must exist."""
        with self._as_stream(frame) as name:
            self.run(f"insert into {_checked(table)} by name select * from {name}")

    def export(self, table: str, path: Path, *, order: str) -> None:
        """Write ``table`` to ``path`` as Parquet, in the order of the columns ``order``."""
        self.copy_out(f"select * from {_checked(table)} order by {order}", path)

    def copy_out(self, select: str, path: Path) -> None:
        """Write the rows of ``select`` to ``path`` as Parquet; the database may be open for reading only."""
        target = str(path).replace("'", "''")
        self.run(f"copy ({select}) to '{target}' (format parquet, compression zstd)")

    @contextmanager
    def _as_stream(self, frame: pl.DataFrame) -> Iterator[str]:
        """A name by which the engine reads ``frame`` where it lies in memory."""
        arrow = _Arrow(frame)
        with self._in_plain_words():
            self._connection.register(STREAM, arrow)
        try:
            yield STREAM
        finally:
            arrow.let_go()  # the engine remembers the name, and what it stood for, until the transaction ends
            with suppress(duckdb.Error):  # after a grave error the connection takes nothing more
                self._connection.unregister(STREAM)

    @contextmanager
    def _in_plain_words(self) -> Iterator[None]:
        """Say what a user can mend; what is left is a fault of ours and goes on as it is."""
        try:
            yield
        except (duckdb.Error, PolarsError, OSError) as error:
            told = why_not_done(self.path, str(error), is_changed=self._is_changed)
            if told is None:
                raise
            raise StoreError(told) from None


class _Arrow:
    """A frame as a stream of Arrow and nothing else: of polars the engine would ask for a further library."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def let_go(self) -> None:
        """Hold the frame no longer."""
        self._frame = self._frame.clear()

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


def archive_of(path: Path) -> Path:
    """The folder for archived rows of the database ``path``."""
    return path.with_name("archive" if path.name == DATABASE else f"{path.stem}_archive")


def _look_into_archive(connection: Connection, path: Path) -> None:
    """Parts are named from the database's folder, so that it can be moved; their names are sums of their bytes."""
    if archive_of(path).is_dir():
        folder = str(path.parent.absolute()).replace("'", "''")
        connection.execute(f"set file_search_path = '{folder}'")


def _connect(path: Path, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    is_file = str(path) != ":memory:"
    if is_file and not read_only and not path.exists():
        _make(path)
    if is_file and path.exists() and not path.is_file():
        raise OSError("it is no file")  # the engine would wait at a pipe
    before = _identity(path)
    connection = duckdb.connect(str(path), read_only=read_only, config=OFFLINE)
    if is_file and (not path.exists() or _identity(path) != before):
        connection.close()  # the run that held it took it away when it failed, or put another in its place
        return _connect(path, read_only=read_only)
    return connection


def _identity(path: Path) -> tuple[int, int] | None:
    """What tells the file of that name from another of the same name, or None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _make(path: Path) -> None:
    """Put an empty database at ``path``, whole or not at all, unless another run is quicker."""
    while not path.exists():
        prefix = f"{DRAFT}{path.name}-"
        with tempfile.TemporaryDirectory(prefix=prefix, dir=path.parent, ignore_cleanup_errors=True) as folder:
            try:
                _put(Path(folder) / "new.duckdb", path)
            except FileExistsError:
                return
            except (OSError, duckdb.Error):
                if Path(folder).exists():
                    raise
                # else a run that came to hold the file took this folder for one that a killed run had left


def _put(draft: Path, path: Path) -> None:
    """Make ``draft`` and call it ``path`` while it is held, so that the log of one that stood there before can go."""
    with duckdb.connect(str(draft), config=OFFLINE) as held:
        held.execute("checkpoint")
        try:
            os.link(draft, path)
        except (FileExistsError, FileNotFoundError):
            raise
        except OSError:  # a file system without links
            held.close()
            draft.rename(path)
        _wal(path).unlink(missing_ok=True)


def _sweep(path: Path, drafts: str) -> None:
    """Take away what a killed run of this file left: only the holder of the file does, so nobody is using it."""
    left = [*path.parent.glob(f"{DRAFT}{glob.escape(path.name)}-*"), *Path(tempfile.gettempdir()).glob(f"{drafts}*")]
    for folder in left:
        shutil.rmtree(folder, ignore_errors=True)


def _take_away(path: Path) -> bool:
    try:
        path.unlink(missing_ok=True)
        _wal(path).unlink(missing_ok=True)
    except OSError:
        return False
    return True


def _wal(path: Path) -> Path:
    return path.with_name(path.name + ".wal")


def _checked(table: str) -> str:
    if not NAME.fullmatch(table):
        raise StoreError(f'"{table}" is not a table name. Expected small letters, digits and underscores.')
    return table
