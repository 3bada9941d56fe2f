"""A second process beside a run, for work that waits on a slow library: it is imported there while this one goes on.

The other process is asked and answers in pickles over its own two pipes, ends when they close, and so never outlives a
run, however that ends. Whatever goes wrong with it, the work is done here instead: then it takes longer, and no more.
"""

from __future__ import annotations

import importlib
import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from typing import Any, ParamSpec, Protocol, TypeVar, cast

from pipeline.machine import engine_threads

P = ParamSpec("P")
R = TypeVar("R")


class Ask(Protocol):
    """Has a function called on arguments, now or beside; what comes back waits for what it returns or raises."""

    def __call__(self, work: Callable[P, R], /, *args: P.args, **kwargs: P.kwargs) -> Callable[[], R]:
        """``work`` stands at the top of a module, and all that it is given and gives can be pickled."""


def here(work: Callable[P, R], /, *args: P.args, **kwargs: P.kwargs) -> Callable[[], R]:
    """Have it done in this process, at once."""
    made = work(*args, **kwargs)
    return lambda: made


@contextmanager
def beside(library: str) -> Iterator[Ask]:
    """A way to ask a process that imports ``library`` meanwhile; this one, if it has it already or may use one core."""
    process = None if library in sys.modules or engine_threads() == 1 else _started(library)
    if process is None:
        yield here
        return
    with ThreadPoolExecutor(1) as line:
        try:
            yield _Other(process, line)
        finally:
            _end(process)
            line.shutdown(cancel_futures=True)


class _Other:
    """Asks the other process one thing after the other, in the order asked."""

    def __init__(self, process: subprocess.Popen[bytes], line: ThreadPoolExecutor) -> None:
        self._process = process
        self._line = line

    def __call__(self, work: Callable[P, R], /, *args: P.args, **kwargs: P.kwargs) -> Callable[[], R]:
        try:
            asked = pickle.dumps((work, args, kwargs))
        except (pickle.PickleError, AttributeError, TypeError):  # what has no name that it could be found by there
            return here(work, *args, **kwargs)
        answer = self._line.submit(_answer, self._process, asked)

        def answered() -> R:
            made = answer.result()
            if made is None:
                return work(*args, **kwargs)  # which says what is wrong, if it is the work
            (given,) = made
            return cast("R", given)

        return answered


def _answer(process: subprocess.Popen[bytes], asked: bytes) -> Any:
    """What the other process made of it, in a tuple of one, or None."""
    if process.stdin and process.stdout:
        with suppress(OSError, ValueError, EOFError, pickle.PickleError):
            process.stdin.write(asked)
            process.stdin.flush()
            return pickle.load(process.stdout)  # noqa: S301 - of our own process
    return None


def _end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe:
            with suppress(OSError):  # what it was still to be told
                pipe.close()


def _started(library: str) -> subprocess.Popen[bytes] | None:
    """The other process; None where the system does not let us."""
    command = [sys.executable, "-P", "-m", "pipeline.beside", library]
    with suppress(OSError):
        return subprocess.Popen(  # noqa: S603 - our own program
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,  # who stops a run by the keyboard stops the run, and this ends with it
        )
    return None


def main(library: str) -> None:
    """Answer what is asked on the standard input until it closes."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    with suppress(ImportError):
        importlib.import_module(library)
    with suppress(EOFError, OSError):
        while True:
            work, args, kwargs = pickle.load(sys.stdin.buffer)  # noqa: S301 - of the process that began this one
            try:
                made = pickle.dumps((work(*args, **kwargs),))
            except Exception:
                made = pickle.dumps(None)
            answers.write(made)
            answers.flush()


if __name__ == "__main__":
    main(sys.argv[1])
