"""The newcomer's path of docs/ten_minutes.md, step by step as it stands there: files, commands, edits, first report."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.docs.commands import make_command, run_all, shown_commands

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docs" / "ten_minutes.md").read_text(encoding="utf-8")
pytestmark = pytest.mark.slow


class Block(NamedTuple):
    """A fenced block of the page: its language, the file it names, its text."""

    kind: str
    file: str
    text: str


def blocks() -> list[Block]:
    found = re.findall(r"^```(\w+) ?([^\n]*)\n(.*?)^```$", TEXT, re.MULTILINE | re.DOTALL)
    return [Block(*each) for each in found]


def edit(site_toml: Path, text: str) -> None:
    """Put each line of ``text`` in the place of the line with its key, commented out or not."""
    told = site_toml.read_text(encoding="utf-8")
    for line in text.splitlines():
        key = re.escape(line.split(" = ")[0])
        told, count = re.subn(rf"^#? ?{key} = .*$", line, told, count=1, flags=re.MULTILINE)
        assert count == 1, line
    site_toml.write_text(told, encoding="utf-8")


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """The folder after all steps, and what each command printed."""
    folder = tmp_path_factory.mktemp("newcomer")
    environment = {**os.environ, "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
    printed = []
    for block in blocks():
        if block.kind == "sh":
            for command in block.text.splitlines():
                done = subprocess.run(
                    ["sh", "-c", command], cwd=folder, env=environment, capture_output=True, text=True, check=False
                )
                assert done.returncode == 0, (command, done.stderr)
                printed.append(done.stdout)
        elif block.kind == "csv":
            (folder / block.file).write_text(block.text, encoding="utf-8")
        elif block.kind == "toml":
            edit(folder / "our_room" / "site.toml", block.text)
        else:
            assert block.text in (folder / "our_room" / "site.toml").read_text(encoding="utf-8")
    return folder, printed


def test_the_first_report_is_what_the_page_says(walked: tuple[Path, list[str]]) -> None:
    """Lost 20:10:00–20:10:08: 8 s. Exposed 20:10:08–20:25:00: 892 s. Air: one hour.

    Covered before and after: 600 s and 2,100 s, together 2,700 s; 8 + 892 + 2,700 = 3,600.
    """
    folder, _ = walked
    figures = json.loads((folder / "our_room/reports/data/figures.json").read_text(encoding="utf-8"))["total"]
    states = {name: figures[f"{name}_s"] for name in ("air", "lost", "exposed", "unproved", "covered", "unknown")}
    assert states == {"air": 3600, "lost": 8, "exposed": 892, "unproved": 0, "covered": 2700, "unknown": 0}
    assert (figures["forced"], figures["return"], figures["demands"], figures["demands_met"]) == (1, 1, 1, 1)


def test_no_row_is_lost_on_the_way(walked: tuple[Path, list[str]]) -> None:
    """2 takes, 2 bookings, 1 report and 10 lines of the log: 15 rows."""
    folder, printed = walked
    rows = json.loads((folder / "our_room/reports/data/figures.json").read_text(encoding="utf-8"))["rows"]
    assert rows == {"read": 15, "kept": 15, "repeats": 0, "set_aside": 0}
    assert "our_room/reports/index.html" in "".join(printed)


def test_every_kind_of_step_is_there() -> None:
    assert [block.kind for block in blocks()].count("csv") == 4
    assert {block.kind for block in blocks()} == {"sh", "csv", "toml", "text"}


@pytest.mark.parametrize(
    "name", ["mapping.md", "keeping.md", "guides/chief_engineer.md", "guides/manager.md", "guides/engineer.md"]
)
def test_the_commands_of_the_other_pages_run_in_that_room(walked: tuple[Path, list[str]], name: str) -> None:
    folder, _ = walked
    check_commands((ROOT / "docs" / name).read_text(encoding="utf-8"), folder)


def test_the_commands_of_the_readme_run(tmp_path: Path) -> None:
    check_commands((ROOT / "README.md").read_text(encoding="utf-8"), tmp_path)


def check_commands(text: str, folder: Path) -> None:
    make_command(folder)
    shutil.copytree(ROOT / "sample_logs" / "second_room", folder / "sample_logs" / "second_room", dirs_exist_ok=True)
    ran = run_all(text, folder)
    assert ran
    assert ran[-1].is_as_told, ran[-1]
    assert len(ran) == len(shown_commands(text))
