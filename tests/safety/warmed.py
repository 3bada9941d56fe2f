"""A process that has paid for every import, forks the command for each line it is told, and kills it where told.

What is forked is the whole command from its arguments to its exit status; with ``limits`` it has no more memory, time
or file size than they say. A run is counted while it goes: every call to the database and every change to a folder is
an event before it and one after it, so that the same number is the same point each time. Slow functions without a
memory of their own, which touch neither the database nor a folder, answer from what earlier runs were answered; what
none of them asked is asked in earnest. What a run imported on its way, the next ones find imported. Nothing is forked
from a process that has used the database, whose threads a child would miss.

Talks JSON, a line each way: `python tests/safety/warmed.py` with the checkout on PYTHONPATH.
"""

from __future__ import annotations

import fcntl
import gc
import importlib
import json
import marshal
import os
import pathlib
import pickle
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import CodeType
from typing import Any

import jinja2
import polars as pl

import pipeline.beside
import pipeline.check
import pipeline.flow
import pipeline.measure
import pipeline.measure.transports.rates.measuring as rating
import pipeline.measure.transports.recording.measuring as recording
import pipeline.model
import pipeline.render
import pipeline.render.pages
import pipeline.store
from pipeline import cli, outputs
from pipeline.check import site as judging
from pipeline.measure.cause_lexicon import load_lexicon
from pipeline.render import clock_charts, figures_svg
from pipeline.render.language import spoken_language
from tests.safety import state

LONGEST_S = 900  # then a run hangs, also on a machine that has much else to do
PIPE_BYTES = 1 << 20  # what an unprivileged process may ask of Linux (man 7 pipe)
ENGINE = {"execute", "sql", "begin", "commit", "rollback", "close"}
FOLDERS = ("replace", "rename", "link", "unlink", "mkdir", "rmdir")
FILES = ((pathlib.Path, "write_bytes"), (pathlib.Path, "write_text"), (pl.DataFrame, "write_parquet"))
STAGES = (
    (pipeline.flow, "load_site", "load"),
    (pipeline.model, "build_models", "model"),
    (pipeline.check, "check_site", "check"),
    (pipeline.measure, "measure_site", "measure"),
    (pipeline.render, "render_reports", "render"),
    (outputs, "write_data", "data"),
    (outputs, "write_manifest", "manifest"),
)
# Not one of them has an event: what a run does to the disk, it does as if they were not answered from memory.
SLOW = (
    (judging, "judge"),
    (rating, "judge_rates"),
    (recording, "judge_recording"),
    (figures_svg, "_svg"),
    (jinja2.Environment, "compile"),
)

Told = dict[str, Any]


class Counted:
    """The events of one run: a stage, a name and the seconds since its start each; calls `is_last` at number `last`."""

    def __init__(self, last: int | None, is_last: Callable[[], None]) -> None:
        self.events: list[tuple[str, str, float]] = []
        self.stage = "open"
        self._last, self._is_last = last, is_last
        self._started_s = time.monotonic()

    def note(self, name: str) -> None:
        self.events.append((self.stage, name, time.monotonic() - self._started_s))
        if len(self.events) - 1 == self._last:
            self._is_last()

    def around(self, function: Callable[..., Any], name: str) -> Callable[..., Any]:
        def called(*arguments: Any, **named: Any) -> Any:
            self.note(f"before {name}")
            answer = function(*arguments, **named)
            self.note(f"after {name}")
            return answer

        return called

    def staged(self, function: Callable[..., Any], stage: str) -> Callable[..., Any]:
        def called(*arguments: Any, **named: Any) -> Any:
            self.stage = stage
            answer = function(*arguments, **named)
            self.stage = "between"
            return answer

        return called

    def connecting(self, connect: Callable[..., Any]) -> Callable[..., Any]:
        return lambda *arguments, **named: Connection(connect(*arguments, **named), self)


class Connection:
    """A connection whose calls are counted; like the true one it closes at the end of a with block."""

    def __init__(self, true: Any, counted: Counted) -> None:
        self._true, self._counted = true, counted

    def __getattr__(self, name: str) -> Any:
        true = getattr(self._true, name)
        return self._counted.around(true, name) if name in ENGINE else true

    def __enter__(self) -> Connection:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def count(counted: Counted) -> None:
    """Have everything that a run does to the disk counted, in this process only."""
    store = importlib.import_module("pipeline.store")
    store.duckdb.connect = counted.connecting(store.duckdb.connect)
    for name in FOLDERS:
        setattr(os, name, counted.around(getattr(os, name), name))
    for kind, name in FILES:
        setattr(kind, name, counted.around(getattr(kind, name), name))
    for module, name, stage in STAGES:
        setattr(module, name, counted.staged(getattr(module, name), stage))


def remember(answers: dict[str, Any]) -> None:
    """Have the slow functions answer from `answers`, and add what is not there."""
    for owner, name in SLOW:
        setattr(owner, name, remembered(getattr(owner, name), answers))
    pipeline.beside._started = alone


def alone(_: str) -> None:
    """No process beside the run: the judge answers from memory as well."""


def remembered(function: Callable[..., Any], answers: dict[str, Any]) -> Callable[..., Any]:
    """The function, which answers with a copy of what it answered to arguments of the same bytes."""

    def called(*arguments: Any, **named: Any) -> Any:
        spoken = spoken_language()
        told = [_plain(each) for each in arguments], sorted(named.items())
        asked = repr((function.__qualname__, spoken.tag, str(spoken.locale), *told))
        if asked not in answers:
            given = function(*arguments, **named)
            form = marshal if isinstance(given, CodeType) else pickle
            answers[asked] = form.__name__, form.dumps(given)
        form_name, given = answers[asked]
        return (marshal if form_name == "marshal" else pickle).loads(given)

    return called


def _plain(argument: Any) -> Any:
    """Its bytes: a frame inside of another value would show a part of itself only."""
    return "environment" if isinstance(argument, jinja2.Environment) else pickle.dumps(argument)


def command(told: Told, answers: dict[str, Any], notice: int, answer: int) -> int:
    """The forked command; says so through `notice` where its own killing is to come from outside, a while later."""
    signal.alarm(told.get("longest_s", LONGEST_S))
    for name, most in told.get("limits", {}).items():
        resource.setrlimit(getattr(resource, name), (most, most))
    tempfile.tempdir = told.get("temporary", tempfile.tempdir)
    after_s = told.get("after_s")

    def end() -> None:
        if after_s is None:
            os.kill(os.getpid(), signal.SIGKILL)
        else:
            os.write(notice, b"!")

    known, imported = set(answers), set(sys.modules)
    counted = Counted(told.get("event", 0 if after_s is not None else None), end)
    if told.get("is_counted", True):
        count(counted)
    remember(answers)
    status = called(told["arguments"])
    with os.fdopen(answer, "wb") as file:
        more = {asked: given for asked, given in answers.items() if asked not in known}
        pickle.dump({"events": counted.events, "answers": more, "modules": sorted({*sys.modules} - imported)}, file)
    return status


def called(arguments: list[str]) -> int:
    """The exit status of the command with these arguments."""
    sys.argv = ["airhours", *arguments]
    try:
        cli.main()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 1
    return 0


def forked(work: Callable[[int, int], int], after_s: float | None = None) -> tuple[Told, bytes]:
    """Do `work` in a child, killed `after_s` seconds after its notice; returns how it ended and what it answered.

    Its peak memory is in MiB, and begins with what this process takes itself.
    """
    pipes = [os.pipe() for _ in range(4)]
    if hasattr(fcntl, "F_SETPIPE_SZ"):
        for _, theirs in pipes[2:]:
            with suppress(OSError):  # the system has too many as large
                fcntl.fcntl(theirs, fcntl.F_SETPIPE_SZ, PIPE_BYTES)
    (notice_from, notice_to), (answer_from, answer_to), (out_from, out_to), (errors_from, errors_to) = pipes
    gc.freeze()  # the child need not look through all that was here before it
    child = os.fork()
    if not child:
        status = 1
        try:
            for ours, _ in pipes:
                os.close(ours)
            os.dup2(out_to, 1)
            os.dup2(errors_to, 2)
            status = work(notice_to, answer_to)
            sys.stdout.flush()
        except BaseException:
            traceback.print_exc()
            sys.stderr.flush()
            raise
        finally:
            os._exit(status)
    for _, theirs in pipes:
        os.close(theirs)
    if after_s is not None and os.read(notice_from, 1):
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
    answered = _read(answer_from)
    _, status, used = os.wait4(child, 0)
    said = {"status": os.waitstatus_to_exitcode(status)}
    said |= {
        "cpu_s": used.ru_utime + used.ru_stime,
        "peak_mib": used.ru_maxrss / 1024,
        "stdout": _read(out_from).decode(),
        "stderr": _read(errors_from).decode(),
    }
    os.close(notice_from)
    return said, answered


def _read(end: int) -> bytes:
    """All that comes; what a command says fits into a pipe, so it need not be read while it runs."""
    with os.fdopen(end, "rb") as file:
        return file.read()


def answer(told: Told, answers: dict[str, Any]) -> Told:
    if told["do"] == "state":
        _, found = forked(lambda _, to: _write(to, state.read_tables(Path(told["database"]))))
        return pickle.loads(found)  # type: ignore[no-any-return]  # noqa: S301 - our own child's
    if told["do"] == "alter":
        forked(lambda _, to: _write(to, state.alter(Path(told["database"]), told["statements"])))
        return {}
    said, found = forked(lambda notice, to: command(told, answers, notice, to), told.get("after_s"))
    was_killed = said["status"] < 0  # maybe in the middle of its answer
    if not found and not was_killed:
        raise RuntimeError(said["stderr"])
    more: Told = {"events": [], "answers": {}, "modules": []} if was_killed else pickle.loads(found)  # noqa: S301
    answers.update(more["answers"])
    for name in more["modules"]:
        with suppress(ImportError):  # a name that only its importer can find
            importlib.import_module(name)
    return {**said, "events": more["events"]}


def _write(to: int, value: Any) -> int:
    with os.fdopen(to, "wb") as file:
        pickle.dump(value, file)
    return 0


def main() -> None:
    tempfile.gettempdir()  # which tries the folder out with a file of its own
    outputs.program_seal()  # one for all runs, also where somebody is at work on the program
    load_lexicon()  # both remember what they made
    clock_charts._described(spoken_language())
    answers: dict[str, Any] = {}
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line), answers)), flush=True)


if __name__ == "__main__":
    main()
