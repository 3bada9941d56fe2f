"""What a run says on the way: nothing for a short load, plain lines in a log, a moving line on a terminal."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

import pytest

from pipeline import progress
from pipeline.progress import Narrator


@pytest.fixture
def clock(monkeypatch) -> list[float]:
    now = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    return now


def test_a_short_load_says_nothing_and_a_long_one_a_line_now_and_then(clock: list[float], capsys) -> None:
    with Narrator() as narrator:
        for second in range(30):
            clock[0] = float(second)
            narrator.show("events/a.csv", 0, 200, second * 1000)
    # the first after 3 s, then every 10 s: 3, 13 and 23 s
    assert capsys.readouterr().err.splitlines() == [
        f"loading events/a.csv, {rows} rows (0 % of all bytes before it)" for rows in (3000, 13000, 23000)
    ]


def test_silence_is_silence(clock: list[float], capsys) -> None:
    with Narrator(is_silent=True) as narrator:
        narrator.say("a sentence")
        clock[0] = 60.0
        narrator.show("events/a.csv", 0, 200, 1)
    assert capsys.readouterr().err == ""


def test_sentences_come_on_lines_of_their_own(capsys) -> None:
    with Narrator() as narrator:
        narrator.say("one")
        narrator.say("two")
    assert capsys.readouterr().err == "one\ntwo\n"


MOVING = """
import sys, time
from pipeline.progress import Narrator
with Narrator() as narrator:
    narrator._next_s = 0
    for rows in range(5):
        narrator.show("events/[red]a.csv", 50, 200, rows)
        time.sleep(0.15)
    narrator.say("loaded")
"""


def test_on_a_terminal_a_line_moves_and_is_taken_away() -> None:
    """In a real terminal: the file's name comes as it is, markup and all, and the last line is the sentence."""
    master, slave = pty.openpty()
    process = subprocess.Popen([sys.executable, "-c", MOVING], stderr=slave, env={**os.environ, "COLUMNS": "100"})
    os.close(slave)
    shown = b""
    while True:
        try:
            data = os.read(master, 4096)
        except OSError:  # the other end is closed
            break
        if not data:
            break
        shown += data
    assert process.wait(timeout=30) == 0
    os.close(master)
    text = shown.decode(errors="replace")
    assert "loading events/[red]a.csv, 4 rows" in text
    assert text.rstrip().endswith("loaded")
