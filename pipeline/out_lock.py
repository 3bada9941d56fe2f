"""Keeps a second run out of a folder that one run is writing, by a lock of the system that no crash leaves behind."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from pipeline.errors import BusyOutputError, OutputError

LOCK = ".airhours.lock"
NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL, errno.EBADF)


@contextmanager
def held_alone(target: Path) -> Iterator[None]:
    """Hold the folder ``target`` until the block ends or the process does.

    Where the file system knows no locks, as on some network shares, nothing is held: there the runs of one site are
    still kept apart by its database.

    Raises:
        BusyOutputError: another run holds it.
        OutputError: the lock file cannot be made.
    """
    path = target / LOCK
    try:
        stream = _take(path)
    except OSError as error:
        raise OutputError(f"The out folder {target} cannot be written: {error.strerror}. Mend its rights.") from None
    if stream is None:
        raise BusyOutputError(
            f"The out folder {target} is in use by another run. Wait until it has ended, or name another with --out."
        )
    try:
        yield
    finally:
        if sys.platform != "win32":
            with suppress(OSError):
                path.unlink(missing_ok=True)  # while it is still held: see _take
        stream.close()
        if sys.platform == "win32":
            with suppress(OSError):  # the system keeps a file that another run has opened meanwhile
                path.unlink(missing_ok=True)


def _take(path: Path) -> BinaryIO | None:
    """The open and locked file, or None where another run has it.

    The holder takes the file away when it ends. Whoever had opened it by then holds a file that is no longer there, and
    tries again.
    """
    while True:
        stream = path.open("ab")
        if not _is_locked_now(stream):
            stream.close()
            return None
        if _is_still(path, stream):
            return stream
        stream.close()


def _is_still(path: Path, stream: BinaryIO) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(stream.fileno()))
    except FileNotFoundError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _is_locked_now(stream: BinaryIO) -> bool:
        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _is_locked_now(stream: BinaryIO) -> bool:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as error:
            if error.errno not in NO_LOCKS:
                raise
        return True
