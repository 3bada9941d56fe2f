"""Chooses the reader of a file by its format, and gives it what its [[feeds]] table says."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from pipeline.errors import FeedError
from pipeline.ingest.batch import Batch
from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.mapping.mapping import wanted_columns
from pipeline.ingest.parquet_reader import read_parquet
from pipeline.ingest.syslog.syslog_reader import read_syslog
from pipeline.ingest.text.archives import open_packed
from pipeline.ingest.text.csv_reader import Start, read_csv
from pipeline.ingest.text.encodings import decoded
from pipeline.ingest.text.jsonl_reader import read_jsonl
from pipeline.ingest.text.lean_reader import read_lean


@dataclass(frozen=True)
class Tail:
    """Where the reading of a file that grew begins: bytes to pass over, the line after them, and the last header."""

    size_bytes: int
    line: int
    headers: tuple[str, ...]


def read_batches(
    found: FoundFile, tail: Tail | None = None, *, is_lean: bool = False, finds_alike: bool = False
) -> Iterator[Batch]:
    """The rows of the file in batches, in the file's own columns; lean ones of plain delimited text.

    With ``finds_alike`` too, lines of a log that are alike are not cut into cells.

    Raises:
        FeedError: it cannot be read as its name or its table says.
    """
    table, dialect = found.table, dialect_of(found)
    if found.format == "parquet":
        yield from read_parquet(found)
    elif found.format == "excel" and table:
        from pipeline.ingest.workbooks.excel_reader import read_excel  # noqa: PLC0415 - its library is for workbooks only

        yield from read_excel(found.path, found.file, dialect, table.sheet)
    elif found.format == "sql" and table:
        yield from _answer(found.file, table.connection, table.query, table.password_from)
    else:
        yield from _read_text(found, dialect, tail, is_lean=is_lean, finds_alike=finds_alike)


def query_size(found: FoundFile) -> tuple[str, int]:
    """The sha256 of what a query returns now, and its size in bytes, so that an unchanged answer is not loaded again.

    Raises:
        FeedError: the database cannot be reached or does not answer it.
    """
    from pipeline.ingest.sql.sql_reader import digest_of  # noqa: PLC0415 - few sites have a query

    return digest_of(read_batches(found))


def forget_answers() -> None:
    """Have each query asked again: within one load all see the same answer."""
    _answer.cache_clear()


@cache
def _answer(name: str, connection: str, query: str, password_from: str) -> tuple[Batch, ...]:
    from pipeline.ingest.sql.sql_reader import read_query  # noqa: PLC0415

    password = os.environ.get(password_from) if password_from else None
    if password_from and password is None:
        raise FeedError(
            f'"{name}" cannot be read: the environment variable {password_from} is not set. Put the password there.'
        )
    return tuple(read_query(name, connection, query, password))


def dialect_of(found: FoundFile) -> Dialect:
    """How the file is written: as the contract has it, or as its table says."""
    if found.table is None:
        return replace(CANONICAL, wanted=found.feed.required)
    return replace(found.table.dialect, wanted=wanted_columns(found.feed, found.table.mapping))


def _read_text(
    found: FoundFile, dialect: Dialect, tail: Tail | None, *, is_lean: bool, finds_alike: bool
) -> Iterator[Batch]:
    with open_packed(found.path, found.file, found.packing, found.member) as packed:
        if tail is not None:
            packed.seek(tail.size_bytes)
        stream = decoded(packed, dialect.encoding)
        if found.format == "csv":
            start = Start(tail.line, tail.headers) if tail else None
            if is_lean:
                is_log = finds_alike and found.feed is EVENTS and found.table is None
                yield from read_lean(stream, found.file, dialect, start=start, finds_alike=is_log)
            else:
                yield from read_csv(stream, found.file, dialect, start=start)
        elif found.format == "syslog":
            yield from read_syslog(stream, found.file)
        elif found.format == "calendar" and found.table:
            from pipeline.ingest.calendars.calendar_reader import read_calendar  # noqa: PLC0415

            yield from read_calendar(stream, found.file, found.table.zone, until=found.table.until)
        else:
            yield from read_jsonl(stream, found.file, first_line=tail.line if tail else 1)
