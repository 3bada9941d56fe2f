"""What can be read of a site while a run holds its database: the figures of the last run, as its pages have them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.answers import read_figures, read_files
from pipeline.errors import BusyError
from pipeline.places import DATABASE

HOLD = "import duckdb, sys; c = duckdb.connect(sys.argv[1]); print(1, flush=True); sys.stdin.read()"


@pytest.fixture
def at_work(site: Path) -> Iterator[Path]:
    """The site while another process holds its database, as a run does from its beginning to its end."""
    command = [sys.executable, "-c", HOLD, str(site / DATABASE)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        yield site
        process.communicate(b"")


def test_figures_are_those_of_the_last_run(kept_room: Path, at_work: Path) -> None:
    assert read_figures(at_work) == read_figures(kept_room)


def test_what_needs_the_database_waits(at_work: Path) -> None:
    with pytest.raises(BusyError):
        read_files(at_work)
    with pytest.raises(BusyError):
        read_figures(at_work, at_work / DATABASE)  # one that was named is answered from itself or not at all
    (at_work / "reports" / "data" / "figures.json").unlink()
    with pytest.raises(BusyError):
        read_figures(at_work)
