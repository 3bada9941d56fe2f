"""A small room as its last run left it, pages and all, and the command run in this process."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from pipeline import outputs
from pipeline.cli import app
from pipeline.places import DATABASE
from pipeline.store import Store
from tests.finished_room import finish_room
from tests.safety.room import write_room


def copy_small(factory: pytest.TempPathFactory, folder: Path) -> Path:
    """A copy, ``folder``, of the small room of tests/safety/room.py after a run, which is one for all workers."""
    return Path(shutil.copytree(finish_room(factory, write_room).site, folder))


def reseal(site: Path) -> None:
    """While the program is being worked on its seal may change between two tests."""
    with Store(site / DATABASE) as store:
        store.run("update run_seal set seal = ?", [outputs.program_seal()])


def airhours(*arguments: str | Path, **environment: str) -> Result:
    """The command in this process; an error that it would tell in one line is in ``exception``."""
    return CliRunner().invoke(app, [*map(str, arguments)], env=environment)
