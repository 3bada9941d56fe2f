"""The log of unattended runs: one line an event, with its time; the only place where "now" is written.

Two files hold at most 2 MiB together: when a line would make the log larger than 1 MiB, the file becomes ``FILE.1``, in
the place of the one before, and a new one is begun.
"""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from pipeline.errors import OutputError

MOST_BYTES = 1 << 20
LONGEST = 2000  # characters of one event


class RunLog:
    """A log file, or nothing where none is wanted."""

    def __init__(self, path: Path | None) -> None:
        """Try the file.

        Raises:
            OutputError: it cannot be written.
        """
        self._path = path
        if path is None:
            return
        try:
            with path.open("ab"):
                pass
        except OSError as error:
            raise OutputError(
                f"The log file {path} cannot be written: {(error.strerror or str(error)).lower()}. Name another with"
                " --log, or mend its rights."
            ) from None

    def note(self, event: str) -> None:
        """Append one event. A disk that has become full must not stop the run: then the event is lost."""
        if self._path is None:
            return
        told = " ".join(event.split())[:LONGEST]
        now = datetime.now(UTC).astimezone().isoformat(timespec="seconds")
        with suppress(OSError):
            _append(self._path, f"{now} [{os.getpid()}] {told}\n".encode())


def _append(path: Path, line: bytes) -> None:
    if path.exists() and path.stat().st_size + len(line) > MOST_BYTES:
        os.replace(path, path.with_name(f"{path.name}.1"))  # noqa: PTH105 - one move, whole or not at all
    with path.open("ab", buffering=0) as file:  # one write, so that the lines of two runs stay whole
        file.write(line)
