"""What went wrong with the database file, in words a user can act on.

The engine tells it in sentences of its own; what they have in common over its versions is looked for here.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from pipeline.errors import BusyStoreError, StoreError

NO_ROOM = (
    *("no space left", "quota exceeded", "file too large", "not enough space", "max_temp_directory_size"),
    "no usable temporary directory",
)
DAMAGED = ("corrupt", "checksum", "read enough bytes", "replaying wal", "serialization error", "deserialize")
HELD = "lock on file"  # by another process
MARK = b"DUCK"  # at byte 8 of every database file of the engine, after a checksum


def not_open(path: Path, message: str) -> StoreError:
    """The error for a database file that could not be opened: see `why_not_open`."""
    kind = BusyStoreError if HELD in message.lower() else StoreError
    return kind(why_not_open(path, message))


def why_not_open(path: Path, message: str) -> str:
    """The one line for a database file that could not be opened; ``message`` is what the engine or the system said."""
    said = message.lower()
    if HELD in said:
        return f"{path} is in use by another run. Wait until it has ended, or name another file with --database."
    if "does not exist" in said or "no such file" in said:
        return f"{path} does not exist or its folder cannot be written. Make the folder, or name another."
    if not _may_be_database(path):
        return f"{path} is not an airhours database. Move it away and run again: it is made anew from the feeds."
    if "version number" in said:
        return f"{path} was written by another version of DuckDB. Move it away and run again: it is made anew."
    told = why_not_done(path, message, is_changed=False)
    first = message.splitlines()[0].removeprefix("IO Error: ").rstrip(".")
    return told or f"{path} cannot be opened: {first}. Check the folder's rights and free space."


def why_not_done(path: Path, message: str, *, is_changed: bool) -> str | None:
    """The one line for work on an open database that failed, or None where it is nothing that a user can mend.

    ``is_changed`` says whether anything was committed before it.
    """
    said = message.lower()
    left = "what was loaded before stays" if is_changed else "nothing was changed"
    if any(words in said for words in NO_ROOM):
        return (
            f"The disk is full: {path} or the temporary folder {_temporary_folder()} cannot be written."
            f" Free some space and run again; {left}."
        )
    if "out of memory" in said:
        return f"The memory does not suffice for {path}. End other programs and run again; {left}."
    if any(words in said for words in DAMAGED):
        return f"{path} is damaged. Move it and {path.name}.wal away and run again: it is made anew from the feeds."
    return None


def _may_be_database(path: Path) -> bool:
    """Whether ``path`` is a database file, or may be one that cannot be looked into; a pipe is never opened."""
    if not path.is_file():
        return not path.exists()
    try:
        with path.open("rb") as file:
            return file.read(12)[8:] == MARK
    except OSError:
        return True


def _temporary_folder() -> str:
    try:
        return tempfile.gettempdir()
    except OSError:  # none can be written
        return os.environ.get("TMPDIR", "of the system")
