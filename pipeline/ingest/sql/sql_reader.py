"""Reads the answer of a database to a query as the same text cells a CSV would have had."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from hashlib import sha256

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest.batch import Batch
from pipeline.ingest.frame_cells import batch_of
from pipeline.ingest.sql.sql_postgres import read_postgres
from pipeline.ingest.sql.sql_sqlite import read_sqlite
from pipeline.ingest.sql.sql_statement import QueryError, one_select, scheme_of

CELLS_IN_A_BATCH = 2_000_000
SCHEMES = ("postgresql", "postgres", "sqlite")


def read_sql(name: str, connection: str, query: str, password: str | None) -> pl.DataFrame:
    """The answer to ``query``, sorted by all its cells, so that the same rows stand in the same order.

    A column of text or of bytes a header. ``name`` is the query's in messages; ``password`` is not known to any.

    Raises:
        FeedError: the connection is no address or holds a password, the query is not one that only reads, or the
            database cannot be reached, refuses it, takes too long, or gives two columns with one name.
    """
    try:
        scheme = scheme_of(connection, SCHEMES)
        asked = one_select(query)
        if scheme == "sqlite":
            headers, answer = read_sqlite(name, connection, asked)
        else:
            headers, answer = read_postgres(name, connection, asked, password)
    except QueryError as error:
        raise FeedError(f'"{name}" cannot be read: {error}.') from None
    answer = answer.sort(answer.columns) if answer.width else answer
    return answer.rename(dict(zip(answer.columns, headers, strict=True)))


def read_query(name: str, connection: str, query: str, password: str | None) -> Iterator[Batch]:
    """The rows of ``read_sql`` in batches; ``line`` is the row's number from 1, ``text`` its cells as JSON.

    Raises:
        FeedError: as ``read_sql``.
    """
    answer = read_sql(name, connection, query, password)
    step = CELLS_IN_A_BATCH // max(1, answer.width)
    for start in range(0, max(1, answer.height), step):
        part = answer.slice(start, step)
        if part.width:
            yield batch_of(part, part.columns, pl.int_range(start + 1, start + 1 + part.height, eager=True))


def digest_of(batches: Iterable[Batch]) -> tuple[str, int]:
    """The SHA-256 in hex of the headers and rows of ``batches``, and how many bytes they are; however they are cut.

    Hashed are lines of JSON: the headers, each time they change, then each row as its ``text``, those set aside too.
    """
    digest, size = sha256(), 0
    headers: tuple[str, ...] | None = None
    for batch in batches:
        lines = [] if batch.headers == headers else [json.dumps(batch.headers, ensure_ascii=False)]
        headers = batch.headers
        rows = pl.concat([batch.rows.select("line", "text"), batch.aside.select("line", "text")]).sort("line")
        whole = "".join(f"{line}\n" for line in (*lines, *rows["text"])).encode()
        digest.update(whole)
        size += len(whole)
    return digest.hexdigest(), size
