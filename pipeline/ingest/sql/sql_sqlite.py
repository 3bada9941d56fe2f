"""Asks a SQLite database a query, with the library that comes with Python."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from time import monotonic
from urllib.parse import quote, unquote, urlsplit

import polars as pl

from pipeline.ingest.sql.sql_statement import QueryError, headers_of

MOST_ROWS = 5_000_000
ROWS_AT_ONCE = 50_000
LONGEST_S = 300
STEPS_BETWEEN_LOOKS = 100_000
ALLOWED = (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_FUNCTION, sqlite3.SQLITE_RECURSIVE)
ERRORS = {
    "SQLITE_CANTOPEN": "the database is not there, or you may not read it. Expected sqlite:/// and its whole path",
    "SQLITE_NOTADB": "it is no SQLite database",
    "SQLITE_CORRUPT": "the database is damaged",
    "SQLITE_BUSY": "another program is writing to the database. Run again later",
    "SQLITE_INTERRUPT": f"the database takes more than {LONGEST_S} seconds. Ask for less in the query",
    "SQLITE_AUTH": "its query would do more than read the database",
    "SQLITE_READONLY": "its query would change the database, which is only read",
}
UNNUMBERED = {
    "unable to open": "SQLITE_CANTOPEN",
    "not authorized": "SQLITE_AUTH",
}  # come without their number at times
MISSING = re.compile(r"no such (table|column|function): ([^\n]{1,60})")


def read_sqlite(name: str, connection: str, query: str) -> tuple[tuple[str, ...], pl.DataFrame]:
    """The headers of the answer to ``query``, and a column of bytes for each, in the order of the database.

    Raises:
        QueryError: there is no such database, it refuses the query, or takes too long.
        FeedError: it has more columns than any export.
    """
    path = unquote(urlsplit(connection).path)
    path = path[1:] if re.match(r"/[A-Za-z]:", path) else path
    try:
        with closing(sqlite3.connect(f"file:{quote(path)}?mode=ro", uri=True)) as database:
            _bound(database)
            cursor = database.execute(query)
            headers = headers_of(name, [column[0] for column in cursor.description])
            return headers, _frame(cursor, len(headers))
    except sqlite3.Error as error:
        raise QueryError(_why(error)) from None


def _bound(database: sqlite3.Connection) -> None:
    """Let it do nothing but read, and not for ever."""
    until = monotonic() + LONGEST_S
    database.text_factory = bytes  # it does not see to it that texts are UTF-8
    database.set_authorizer(lambda action, *_: sqlite3.SQLITE_OK if action in ALLOWED else sqlite3.SQLITE_DENY)
    database.set_progress_handler(lambda: int(monotonic() > until), STEPS_BETWEEN_LOOKS)


def _frame(cursor: sqlite3.Cursor, width: int) -> pl.DataFrame:
    schema = {f"c{place}": pl.Binary for place in range(width)}
    parts = [pl.DataFrame(schema=schema)]
    count = 0
    while rows := cursor.fetchmany(ROWS_AT_ONCE):
        count += len(rows)
        if count > MOST_ROWS:
            raise QueryError(f"its query gives more than {MOST_ROWS:,} rows. Ask for less")
        columns = ([_bytes(value) for value in column] for column in zip(*rows, strict=True))
        parts.append(pl.DataFrame(dict(zip(schema, columns, strict=True)), schema=schema))
    return pl.concat(parts)


def _bytes(value: object) -> bytes | None:
    if value is None or isinstance(value, bytes):
        return value
    return str(value).removesuffix(".0").encode()


def _why(error: sqlite3.Error) -> str:
    missing = MISSING.search(str(error))
    if missing:
        return f'its query names the {missing[1]} "{missing[2]}" that is not there'
    kind = str(getattr(error, "sqlite_errorname", ""))
    kind = next((kind for part, kind in UNNUMBERED.items() if part in str(error)), kind)
    said = next((words for key, words in ERRORS.items() if kind.startswith(key)), "")
    return said or "the database refuses its query. Write it as SQLite expects it"
