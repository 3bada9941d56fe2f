"""The warmed process itself: one that dies fails the test that asked it, and no other."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

from tests.safety.room import write_room
from tests.safety.servers import Server

pytestmark = [pytest.mark.slow, pytest.mark.skipif(sys.platform == "win32", reason="forks, and kills by SIGKILL")]


def test_a_dead_process_fails_one_question_with_what_it_said_and_is_replaced(tmp_path: Path) -> None:
    server = Server(tmp_path / "temporary")
    with pytest.raises(AssertionError, match=r"ended with 1 at \{'do': 'command'\}") as told:
        server._ask({"do": "command"})  # nothing to run: the child cannot answer
    assert "KeyError: 'arguments'" in str(told.value)
    command = ("figures", write_room(tmp_path / "site"))
    assert "airhours run" in server.command(*command).refusal
    os.kill(server._process.pid, signal.SIGKILL)
    server._process.wait()
    assert "airhours run" in server.command(*command).refusal
    server.close()
