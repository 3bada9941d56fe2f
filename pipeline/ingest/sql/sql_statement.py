"""Takes a query and a connection apart before either reaches a database: one statement that only reads, no password."""

from __future__ import annotations

import re
from collections.abc import Sequence
from urllib.parse import parse_qsl, quote, urlencode, urlsplit, urlunsplit

from pipeline.ingest.batch import clean_headers

ONE_SELECT = 'Expected one select statement, which may begin with "with"'
# Comments, texts, quoted names and dollar-quoted texts. A backslash in a text may deceive it; the databases themselves
# refuse more than one statement.
TOKEN = re.compile(r"""(--[^\n]*|/\*.*?\*/)|'(?:[^']|'')*'|"(?:[^"]|"")*"|\$(\w*)\$.*?\$\2\$""", re.DOTALL)
SECRET = re.compile("passw|pwd|secret", re.IGNORECASE)
CONNECT_S = 10
HELD_IN_CONNECTION = (
    "its connection holds a password. Put it in the environment variable that password_from names, and take it out "
    "of site.toml"
)
NO_DATABASE = (
    "its connection is to no database that can be read. Expected postgresql://user@host/database or "
    "sqlite:///folder/file.db"
)


class QueryError(Exception):
    """Why a query gives no rows, in words that follow "cannot be read:"; never with any part of the connection."""


def one_select(query: str) -> str:
    """``query`` without its comments and the semicolon at its end.

    Raises:
        QueryError: it is not one statement that begins with select or with.
    """
    bare = TOKEN.sub(lambda found: " " if found[1] else found[0], query).strip().rstrip(";").rstrip()
    words = TOKEN.sub("''", bare)
    if ";" in words:
        raise QueryError(f"its query holds more than one statement. {ONE_SELECT}")
    first = re.match(r"[\s(]*(\w*)", words)
    if first is None or first[1].lower() not in {"select", "with"}:
        said = f'begins with "{first[1][:20]}"' if first and first[1] else "is empty"
        raise QueryError(f"its query {said}. {ONE_SELECT}")
    return bare


def scheme_of(connection: str, known: Sequence[str]) -> str:
    """What stands before ``://``, in small letters: one of ``known``.

    Raises:
        QueryError: the connection is none of these, or holds a password.
    """
    try:
        parts = urlsplit(connection)
        named = [name for name, _ in parse_qsl(parts.query, keep_blank_values=True)]
    except ValueError:
        raise QueryError(NO_DATABASE) from None
    user, _, _ = parts.netloc.rpartition("@")
    if ":" in user or any(SECRET.search(name) for name in named) or (not parts.scheme and SECRET.search(connection)):
        raise QueryError(HELD_IN_CONNECTION)
    if parts.scheme.lower() not in known:
        raise QueryError(NO_DATABASE)
    return parts.scheme.lower()


def with_password(connection: str, password: str | None) -> str:
    """The address of a PostgreSQL database with the password in it, and how long to wait for it if it does not say."""
    parts = urlsplit(connection)
    named = dict(parse_qsl(parts.query, keep_blank_values=True))
    named = {"connect_timeout": str(CONNECT_S), "application_name": "airhours", **named, "client_encoding": "utf8"}
    if password is not None:
        named["password"] = password
    return urlunsplit(parts._replace(query=urlencode(named, quote_via=quote)))


def headers_of(name: str, columns: Sequence[str]) -> tuple[str, ...]:
    """The columns of an answer as headers.

    Raises:
        QueryError: two have one name.
        FeedError: there are more of them than any export has.
    """
    bare = [column.strip() for column in columns]
    for column in bare:
        if column and bare.count(column) > 1:
            raise QueryError(f'its query gives two columns "{column[:60]}". Name one of them anew with as')
    return clean_headers(name, columns)
