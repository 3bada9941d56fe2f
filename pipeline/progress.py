"""What a run says on the way: a moving line on a terminal, plain lines elsewhere, nothing where none is wanted."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

FIRST_AFTER_S, EVERY_S = 3.0, 10.0  # a short load says nothing of itself


class Narrator:
    """Sentences and progress on the standard error. Use as a context manager: the terminal is left as it was."""

    def __init__(self, *, is_silent: bool = False) -> None:
        """Say nothing at all if ``is_silent``."""
        self._is_silent = is_silent
        self._bar: Progress | None = None
        self._task: TaskID | None = None
        self._next_s = time.monotonic() + FIRST_AFTER_S

    def __enter__(self) -> Narrator:
        """Return the narrator."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Take the moving line away."""
        self._clear()

    def say(self, sentence: str) -> None:
        """One sentence, on a line of its own."""
        self._clear()
        if not self._is_silent:
            sys.stderr.write(f"{sentence}\n")
            sys.stderr.flush()

    def show(self, file: str, before: int, whole: int, rows: int) -> None:
        """How far the loading is: the file, the bytes before it of all bytes, and the rows read of it so far."""
        now = time.monotonic()
        if self._is_silent or (now < self._next_s and self._bar is None):
            return
        told = f"loading {file}, {rows} rows"
        if sys.stderr.isatty():
            self._move(told, before, whole)
        elif now >= self._next_s:
            share = f" ({100 * before // whole} % of all bytes before it)" if whole else ""
            sys.stderr.write(f"{told}{share}\n")
            sys.stderr.flush()
            self._next_s = now + EVERY_S

    def _move(self, told: str, before: int, whole: int) -> None:
        if self._bar is None or self._task is None:
            from rich.console import Console  # noqa: PLC0415 - only a terminal needs it
            from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

            columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeRemainingColumn())
            self._bar = Progress(*columns, console=Console(stderr=True), transient=True)
            self._bar.start()
            self._task = self._bar.add_task(told, total=whole)
        self._bar.update(self._task, description=told, completed=before)

    def _clear(self) -> None:
        if self._bar is not None:
            self._bar.stop()
        self._bar, self._task = None, None
