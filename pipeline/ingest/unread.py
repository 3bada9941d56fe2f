"""Which files need no reading to be known: their size and the time of their last change are as they were.

A file that was changed just before it was read may be changed again within the grain of the clock that dates it, and
look the same. So such a time is not believed, and the file is read as a whole next time.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.errors import unreadable
from pipeline.ingest.find import FoundFile, hash_file
from pipeline.ingest.ledger import TIMES
from pipeline.store import Store

GRAIN_NS = 2_000_000_000  # the coarsest file system in use, FAT, dates changes to two seconds
Look = tuple[int, int]  # size in bytes, time of the last change in ns since 1970
TABLE = pl.Schema({"file": pl.String, "size_bytes": pl.Int64, "modified_ns": pl.Int64})


@dataclass(frozen=True)
class Known:
    """A file's SHA-256 in hex, its size in bytes, and when it was changed if that may be believed next time."""

    sha256: str
    size_bytes: int
    modified_ns: int | None


def read_looks(store: Store) -> dict[str, Look]:
    """Size and time of the files as they were loaded, of those whose time may be believed."""
    rows = store.read(f"select file, size_bytes, modified_ns from {TIMES} order by file") if store.has(TIMES) else None
    return {} if rows is None else {file: (size, at) for file, size, at in rows.iter_rows()}


def is_as_it_was(found: FoundFile, looks: Mapping[str, Look]) -> bool:
    """Whether the file has the size and time that it was loaded with.

    Raises:
        FeedError: it cannot be looked at.
    """
    return found.file in looks and _look(found) == looks[found.file]


def know_file(found: FoundFile, loaded: str | None, looks: Mapping[str, Look]) -> Known:
    """What tells the bytes of ``found``: believed to be ``loaded``, the SHA-256 of those in the database, or hashed.

    Raises:
        FeedError: it cannot be read.
    """
    if loaded is not None and is_as_it_was(found, looks):
        return Known(loaded, *looks[found.file])
    before, began_ns = _look(found), time.time_ns()
    sha256, size_bytes = hash_file(found)
    is_settled = _look(found) == before == (size_bytes, before[1]) and before[1] + GRAIN_NS <= began_ns
    return Known(sha256, size_bytes, before[1] if is_settled else None)


def write_looks(store: Store, known: Mapping[str, Known]) -> None:
    """Write ``source_file_times`` anew: one row a file that need not be read while it looks as it does."""
    rows = [(file, each.size_bytes, each.modified_ns) for file, each in known.items() if each.modified_ns is not None]
    store.run(f"delete from {TIMES}")
    store.append(TIMES, pl.DataFrame(rows, schema=TABLE, orient="row").sort("file"))


def _look(found: FoundFile) -> Look:
    try:
        stat = found.path.stat()
    except OSError as error:
        raise unreadable(found.file, error) from None
    return stat.st_size, stat.st_mtime_ns
