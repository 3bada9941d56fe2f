"""Which files of the out folder need no reading to be known: their size and time of change are as they were noted.

What a run wrote is noted in the database (``page_times``) and not beside the pages, so that the folders of two runs are
alike byte for byte. A file that was changed just before it was summed may be changed again within the grain of the
clock that dates it, and look the same. So its time is not noted, and the next run sums it. That clock is the file
system's own, which may be another machine's.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISREG
from types import MappingProxyType

import polars as pl

from pipeline.digests import digest_file
from pipeline.store import Store

TABLE = "page_times"
SCHEMA = pl.Schema({"file": pl.String, "size_bytes": pl.Int64, "modified_ns": pl.Int64, "sha256": pl.String})
SECOND_NS = 1_000_000_000
COARSE_NS = 2 * SECOND_NS  # FAT dates changes to two seconds, the coarsest in use
FINE_NS = SECOND_NS // 10  # what dates to parts of a second does so to 10 ms or less: a tick of the system, or exFAT
Look = tuple[int, int]  # size in bytes, time of the last change in ns since 1970


@dataclass(frozen=True)
class Noted:
    """How a file looked when its SHA-256 was taken: size in bytes, time of the last change in ns since 1970."""

    size_bytes: int
    modified_ns: int
    sha256: str

    @property
    def look(self) -> Look:
        """Size and time, as they must be for the sum to be believed."""
        return self.size_bytes, self.modified_ns


Notes = Mapping[str, Noted]  # by the file's name, relative to the out folder
NONE: Notes = MappingProxyType({})


def read_notes(store: Store) -> Notes:
    """What the last run noted of the files it wrote; nothing where another program's table stands there."""
    if set(store.columns(TABLE)) != set(SCHEMA):
        return NONE
    rows = store.read(f"select file, size_bytes, modified_ns, sha256 from {TABLE} order by file")
    return {file: Noted(*noted) for file, *noted in rows.iter_rows()}


def write_notes(store: Store, notes: Notes) -> None:
    """Write ``page_times`` anew: one row a file that need not be summed while it looks as it does."""
    rows = [(name, each.size_bytes, each.modified_ns, each.sha256) for name, each in sorted(notes.items())]
    store.write(TABLE, pl.DataFrame(rows, schema=SCHEMA, orient="row"))


def sum_file(path: Path, noted: Noted | None) -> str:
    """The SHA-256 of a file's bytes in hex: the noted one where it looks as it did then, else of what it holds.

    Raises:
        OSError: it cannot be read.
    """
    if noted is not None and _look(path) == noted.look:
        return noted.sha256
    return digest_file(path)


def sum_files(folder: Path, names: Sequence[str]) -> tuple[dict[str, str], Notes]:
    """The SHA-256 of each file by name, and what is to be noted of those whose look may be believed next time.

    Raises:
        OSError: one cannot be read.
    """
    with tempfile.TemporaryFile(dir=folder) as file:
        now_ns = os.fstat(file.fileno()).st_mtime_ns
    sums, fresh = dict[str, str](), dict[str, Noted]()
    for name in names:
        look = _look(folder / name)
        sums[name] = digest_file(folder / name)
        if look is not None and _is_settled(look, now_ns) and _look(folder / name) == look:
            fresh[name] = Noted(*look, sums[name])
    return sums, fresh


def _is_settled(look: Look, now_ns: int) -> bool:
    """Whether a later change must show in the time: that of a whole second may have been rounded as FAT does."""
    _, modified_ns = look
    return modified_ns + (FINE_NS if modified_ns % SECOND_NS else COARSE_NS) <= now_ns


def _look(path: Path) -> Look | None:
    """Size and time of the file that lies there; None of a link, for what it leads to may change unseen."""
    found = path.lstat()
    return (found.st_size, found.st_mtime_ns) if S_ISREG(found.st_mode) else None
