"""A small room as its last run left it, pages and all, and the command run in this process."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner, Result

from pipeline import outputs
from pipeline.cli import app
from pipeline.flow import run_site
from pipeline.places import DATABASE
from pipeline.store import Store
from tests.finished_room import quiet
from tests.safety.room import write_room


def finish_small(folder: Path) -> Path:
    """The small room of tests/safety/room.py after a run; returns its folder."""
    site = write_room(folder)
    run_site(site, narrate=quiet)
    return site


def reseal(site: Path) -> None:
    """While the program is being worked on its seal may change between two tests."""
    with Store(site / DATABASE) as store:
        store.run("update run_seal set seal = ?", [outputs.program_seal()])


def airhours(*arguments: str | Path, **environment: str) -> Result:
    """The command in this process; an error that it would tell in one line is in ``exception``."""
    return CliRunner().invoke(app, [*map(str, arguments)], env=environment)
