"""Every example at the end of every help, typed in a folder with the invented room."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline.cli import COMMANDS, app
from tests.docs.commands import Shown, lay_out, run_shown
from tests.finished_room import Finished

RUNS = ("retry", "withdraw")  # minutes: docs/command.md has the same lines, and a test of its own runs them


def shown_in_help(*command: str) -> list[str]:
    told = CliRunner().invoke(app, [*command, "--help"], env={"COLUMNS": "200"}).stdout
    return re.findall(r"^    (airhours .*)$", told.partition("Examples:")[2], re.MULTILINE)


def cheap_examples() -> list[str]:
    names = [name for name in ("", *COMMANDS) if name not in RUNS]
    return [line for name in names for line in shown_in_help(*filter(None, [name]))]


@pytest.mark.parametrize("name", ["", *COMMANDS])
def test_every_help_ends_with_examples(name: str) -> None:
    shown = shown_in_help(*filter(None, [name]))
    assert shown
    assert not name or shown == list(COMMANDS[name][1])
    assert not name or all(line.split()[1] == name for line in shown)


@pytest.fixture(scope="module")
def folder(finished: Finished, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay_out(tmp_path_factory.mktemp("examples"), finished.site)


@pytest.mark.slow
@pytest.mark.parametrize("line", cheap_examples())
def test_the_example_runs(line: str, folder: Path) -> None:
    ran = run_shown(Shown(0, line), folder)
    assert ran.status == 0, ran
    assert "Traceback" not in ran.stderr
    assert ran.stdout or ">" in line


def test_the_dearer_examples_are_run_by_the_docs() -> None:
    page = (Path(__file__).resolve().parent.parent.parent / "docs" / "command.md").read_text(encoding="utf-8")
    for name in RUNS:
        for line in COMMANDS[name][1]:
            assert f"\n{line}\n" in page
