"""A process beside a run: what it answers is what would be answered here, and where it fails the work is done here."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline import beside as room
from pipeline.beside import beside, here

ABSENT = "a_library_that_nobody_has"
TRULY_STARTED = room._started  # which tests have begin nothing, see conftest.py


def process_and_sum(*numbers: int) -> tuple[int, int]:
    return os.getpid(), sum(numbers)


def fail(what: str) -> None:
    raise ValueError(f"{what} in {os.getpid()}")


def leave(code: int) -> int:
    if str(os.getpid()) != os.environ["ASKED_FROM"]:
        os._exit(code)
    return code


@pytest.fixture(autouse=True)
def _importable(monkeypatch: pytest.MonkeyPatch) -> None:
    """The other process finds this module by its name, and two cores are there."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[1]))
    monkeypatch.setattr(room, "_started", TRULY_STARTED)
    monkeypatch.setenv("AIRHOURS_THREADS", "2")
    monkeypatch.setenv("ASKED_FROM", str(os.getpid()))
    for work in (process_and_sum, fail, leave):
        monkeypatch.setattr(work, "__module__", "tests.test_beside")


def test_it_answers_from_another_process_in_the_order_asked() -> None:
    with beside(ABSENT) as ask:
        answers = [ask(process_and_sum, number, 1) for number in range(5)]
        told = [answer() for answer in answers]
    assert [total for _, total in told] == [1, 2, 3, 4, 5]
    assert len({process for process, _ in told}) == 1
    assert told[0][0] != os.getpid()


def test_what_is_imported_already_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    with beside("json") as ask:
        assert ask is here
        assert ask(process_and_sum, 1, 2)() == (os.getpid(), 3)
    monkeypatch.setenv("AIRHOURS_THREADS", "1")
    with beside(ABSENT) as ask:
        assert ask is here


def test_an_error_is_raised_as_if_it_had_been_done_here() -> None:
    with beside(ABSENT) as ask:
        answer = ask(fail, "wrong")
        with pytest.raises(ValueError, match=f"wrong in {os.getpid()}"):
            answer()
        assert ask(process_and_sum, 2)()[0] != os.getpid()  # and the other goes on


def test_where_the_other_is_gone_all_is_done_here() -> None:
    with beside(ABSENT) as ask:
        asked = [ask(leave, 3), ask(process_and_sum, 4)]
        assert [answer() for answer in asked] == [3, (os.getpid(), 4)]


def test_what_has_no_name_is_done_here() -> None:
    def own() -> int:
        return os.getpid()

    with beside(ABSENT) as ask:
        assert ask(own)() == os.getpid()


def test_where_none_can_be_started_all_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room.sys, "executable", "/nowhere/python")
    with beside(ABSENT) as ask:
        assert ask(process_and_sum, 4)() == (os.getpid(), 4)


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_it_does_not_outlive_who_began_it(tmp_path: Path) -> None:
    told = tmp_path / "process"
    text = (
        "import pathlib, sys, time; from pipeline.beside import beside; import tests.test_beside as own\n"
        f"with beside({ABSENT!r}) as ask:\n"
        f"    pathlib.Path({str(told)!r}).write_text(str(ask(own.process_and_sum, 1)()[0])); time.sleep(600)\n"
    )
    run = subprocess.Popen([sys.executable, "-c", text], cwd=Path(__file__).parents[1])
    while not told.exists() or not told.read_text():
        assert run.poll() is None
        time.sleep(0.05)
    other = int(told.read_text())
    run.send_signal(signal.SIGKILL)
    run.wait()
    for _ in range(200):
        if not is_running(other):
            return
        time.sleep(0.05)
    pytest.fail("it goes on")


def is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text().rsplit(")", 1)[1].split()[0] != "Z"
