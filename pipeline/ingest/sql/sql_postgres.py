"""Asks a PostgreSQL database a query, and has the database itself write its values as text.

So every type it knows has a text, numbers keep their digits, and no library has to know the type.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import polars as pl
from polars.exceptions import PanicException, PolarsError

from pipeline.ingest.sql.sql_statement import QueryError, headers_of, with_password

MOST_ROWS = 5_000_000
STATEMENT_S = 300
SETTINGS = (
    "set transaction isolation level repeatable read, read only",
    "set local timezone = 'UTC'",
    "set local datestyle = 'ISO, YMD'",
    "set local intervalstyle = 'postgres'",
    "set local extra_float_digits = 1",
    f"set local statement_timeout = '{STATEMENT_S}s'",
)
TEXTS = {
    "timestamp with time zone": "replace(replace({0}::text, ' ', 'T'), '+00', 'Z')",
    "timestamp without time zone": "replace({0}::text, ' ', 'T')",
    "money": "{0}::numeric::text",
    "bytea": "{0}",
}
NOT_LET_IN = "the database refuses the user or the password. Set the environment variable that password_from names"
NO_ANSWER = "the database does not answer. See that it runs, and that the connection names its host and port"
BROKE_OFF = "the database broke off. See whether the query fails on one of its rows"
TOO_LONG = f"the database takes more than {STATEMENT_S} seconds. Ask for less in the query"
# What a connection that fails is about, as the database's own client says it in English.
UNCONNECTED = (
    (r"password|authentication|fe_sendauth|pg_hba|role .* does not exist", NOT_LET_IN),
    (r"database .* does not exist", "the connection names a database that is not there"),
    (r"translate host name|resolve", "the connection names a host that is not known"),
    (r"SSL|certificate", "the database and the connection do not agree on encryption. Look at sslmode"),
    (
        r"invalid|forbidden|missing .=",
        "its connection cannot be understood. Expected one such as postgresql://reader@host/room",
    ),
)
# SQLSTATE, PostgreSQL documentation, appendix A
STATES = {
    "42P01": "its query names the table {} that is not there",
    "42703": "its query names the column {} that is not there",
    "3F000": "its query names the schema {} that is not there",
    "42883": "its query names a function that is not there, or gives it values of other types",
    "42601": "its query is not written as the database expects it, near {}",
    "42501": "the user may not read {}",
    "25006": "its query would change the database, which is only read",
    "0A000": "its query would change the database, or asks for what it cannot do",
    "57014": TOO_LONG,
    "22012": "its query divides by zero",
}
QUOTED_NAME = re.compile(r'"([^"\n]{1,60})"|(?:table|view|relation|schema) ([\w.]{1,60})')


def read_postgres(name: str, connection: str, query: str, password: str | None) -> tuple[tuple[str, ...], pl.DataFrame]:
    """The headers of the answer to ``query``, and a column of text or bytes for each, in the order of the database.

    Read in one transaction that cannot write. Times with a zone are in UTC with a Z, those without have none.

    Raises:
        QueryError: the database cannot be reached, refuses the query, or takes too long.
        FeedError: it has more columns than any export.
    """
    with _connected(with_password(connection, password)) as ask:
        for setting in SETTINGS:
            ask(setting)
        columns = f"from (select 1) one left join (select * from (\n{query}\n) s limit 0) q on true"
        found = ask(f"select row_to_json(r)::text from (select q.* {columns}) r").item()
        names = [key for key, _ in json.loads(found, object_pairs_hook=list)]
        headers = headers_of(name, names)
        if not names:
            return headers, pl.DataFrame()
        kinds = ask(f"select {_listed(f'pg_typeof({_column(key)})::text' for key in names)} {columns}").row(0)
        texts = [TEXTS.get(kind, "{0}::text").format(_column(key)) for key, kind in zip(names, kinds, strict=True)]
        answer = ask(f"select {_listed(texts)} from (\n{query}\n) q limit {MOST_ROWS + 1}")
    if answer.height > MOST_ROWS:
        raise QueryError(f"its query gives more than {MOST_ROWS:,} rows. Ask for less")
    return headers, answer


class _Ask:
    """Sends one statement and returns its rows."""

    def __init__(self, connection: Any) -> None:
        self._connection = connection

    def __call__(self, statement: str) -> pl.DataFrame:
        with self._connection.cursor() as cursor:
            cursor.execute(statement)
            if statement.startswith("set "):
                return pl.DataFrame()
            return pl.DataFrame(cursor.fetch_arrow())


@contextmanager
def _connected(address: str) -> Iterator[_Ask]:
    try:
        from adbc_driver_postgresql import dbapi  # type: ignore[import-untyped] # noqa: PLC0415 - few need it
    except ImportError:
        raise QueryError("the package adbc-driver-postgresql is not installed. Install it beside airhours") from None
    try:
        connection = dbapi.connect(address)
    except dbapi.Error as error:
        raise QueryError(_why_unconnected(str(error))) from None
    try:
        yield _Ask(connection)
    except dbapi.Error as error:
        raise QueryError(_why_refused(error)) from None
    except (PolarsError, PanicException) as error:  # the rows broke off
        said = TOO_LONG if "statement timeout" in str(error) else BROKE_OFF
        raise QueryError(said) from None
    finally:
        connection.close()


def _why_unconnected(said: str) -> str:
    for pattern, why in UNCONNECTED:
        if re.search(pattern, said):
            return why
    return NO_ANSWER


def _why_refused(error: Any) -> str:
    details = dict(getattr(error, "details", None) or ())
    primary = details.get("PG_DIAG_MESSAGE_PRIMARY", details.get(b"PG_DIAG_MESSAGE_PRIMARY", b""))
    named = QUOTED_NAME.search(primary.decode("utf-8", "replace") if isinstance(primary, bytes) else str(primary))
    state = error.sqlstate or ""
    if state[:2] in {"08", "57", "53"} and state not in STATES:
        return NO_ANSWER
    why = STATES.get(state, f"the database refuses its query (SQLSTATE {state or 'not given'})")
    return why.format(f'"{named[1] or named[2]}"' if named else "it names")


def _column(name: str) -> str:
    quoted = name.replace('"', '""')
    return f'q."{quoted}"'


def _listed(texts: Iterable[str]) -> str:
    return ", ".join(f"{text} as c{place}" for place, text in enumerate(texts))
