"""Every example at the end of every help runs: here, or among the commands of docs/command.md, which are all run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline.cli import COMMANDS, app
from tests.docs.commands import ROOT, Shown, lay_out, run_shown
from tests.finished_room import Finished

PAGE = ROOT / "docs" / "command.md"
# In need of another before them: docs/command.md has the same lines, and a test of its own runs them in their order.
RUNS = ("retry", "withdraw", "upgrade", "restore", "archive")


def shown_in_help(*command: str) -> list[str]:
    told = CliRunner().invoke(app, [*command, "--help"], env={"COLUMNS": "200"}).stdout
    return re.findall(r"^    (airhours .*)$", told.partition("Examples:")[2], re.MULTILINE)


def is_in_docs(line: str) -> bool:
    return f"\n{line}\n" in PAGE.read_text(encoding="utf-8")


def other_examples() -> list[str]:
    """Every help is held below to show these of its command."""
    lines = [*shown_in_help(), *(line for _, examples in COMMANDS.values() for line in examples)]
    return [line for line in lines if not is_in_docs(line)]


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
@pytest.mark.parametrize("line", other_examples())
def test_the_example_runs(line: str, folder: Path) -> None:
    ran = run_shown(Shown(0, line), folder)
    assert ran.status == 0, ran
    assert "Traceback" not in ran.stderr
    assert ran.stdout or ">" in line


def test_examples_that_need_others_before_them_are_run_by_the_docs() -> None:
    for name in RUNS:
        assert all(map(is_in_docs, COMMANDS[name][1]))
