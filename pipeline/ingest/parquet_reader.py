"""Reads Parquet, with typed or text columns, as the same text cells a CSV would have had."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import polars as pl
from polars.exceptions import PanicException, PolarsError

from pipeline.errors import unreadable
from pipeline.ingest.batch import Batch, clean_headers
from pipeline.ingest.find import FoundFile
from pipeline.ingest.frame_cells import batch_of

CELLS_IN_A_BATCH = 2_000_000
MAGIC = b"PAR1"  # at the beginning and at the end, by the format's specification
LEAST_BYTES = 12  # both, and the size of what stands before the latter
NO_PARQUET = "it is no Parquet file, or a part of one"
DAMAGED = "it is a Parquet file, but its data are damaged or of a type that has no text"


def read_parquet(found: FoundFile) -> Iterator[Batch]:
    """The rows of a Parquet file in batches; ``line`` is the row's number from 1, ``text`` its cells as JSON.

    Times become ISO 8601 text, with a Z where the column has a zone; nested values JSON text.

    Raises:
        FeedError: the file is no Parquet file, is damaged, or holds a type that has no text form.
    """
    try:
        if not _has_magic(found.path):
            raise unreadable(found.file, NO_PARQUET)
        yield from _read(found.path, found.file)
    except OSError as error:
        raise unreadable(found.file, error if error.strerror else DAMAGED) from None
    except (PolarsError, PanicException, ValueError):  # their text is about the library
        raise unreadable(found.file, DAMAGED) from None


def _has_magic(path: Path) -> bool:
    with path.open("rb") as stream:
        begins = stream.read(4)
        if stream.seek(0, 2) < LEAST_BYTES:
            return False
        stream.seek(-4, 2)
        return begins == stream.read() == MAGIC


def _read(path: Path, file: str) -> Iterator[Batch]:
    scan = pl.scan_parquet(path, glob=False)
    names = scan.collect_schema().names()
    headers = clean_headers(file, names)
    if not headers:
        yield Batch((), pl.DataFrame(), pl.DataFrame())
        return
    height = int(scan.select(pl.len()).collect().item())
    step = CELLS_IN_A_BATCH // len(headers)
    for start in range(0, max(height, 1), step):
        frame = scan.slice(start, step).collect()
        yield batch_of(frame, headers, pl.int_range(start + 1, start + 1 + frame.height, eager=True))
