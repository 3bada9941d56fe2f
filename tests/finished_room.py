"""The invented room after one run of the whole job, made once for the tests of all workers that only look at it."""

from __future__ import annotations

import os
import pickle
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline import flow
from pipeline.flow import Narrate, Request, RunResult, run_site
from pipeline.places import DATABASE

ROOM = Path(__file__).resolve().parent.parent / "sample_logs"
FEEDS = ("site.toml", "events", "switches.csv", "tickets.csv", "bookings.csv", "machines.csv", "reels.csv")


@dataclass(frozen=True)
class Finished:
    """The folder of the room and what its run answered. Nobody writes there: who wants to takes a copy."""

    site: Path
    result: RunResult

    @property
    def database(self) -> Path:
        return self.site / DATABASE

    @property
    def reports(self) -> Path:
        return self.result.index.parent


def quiet(sentence: str) -> None:
    """Take the narration and drop it."""


def copy_room(target: Path) -> Path:
    """The feeds of the invented room alone, so that no run touches the checkout."""
    target.mkdir()
    for name in FEEDS:
        source = ROOM / name
        if source.is_dir():
            shutil.copytree(source, target / name)
        else:
            shutil.copy(source, target / name)
    return target


def copy_second_room(target: Path) -> Path:
    """The room of foreign files, without what it was written from."""
    return Path(shutil.copytree(ROOM / "second_room", target, ignore=shutil.ignore_patterns("reports", "*.duckdb*")))


def copy_german_room(target: Path) -> Path:
    """The invented room with its pages in German."""
    site = copy_room(target)
    with (site / "site.toml").open("r+", encoding="utf-8") as file:
        told = file.read()
        file.seek(0)
        file.write(f'language = "de"\n{told}')
    return site


def finish_room(factory: pytest.TempPathFactory, lay_out: Callable[[Path], Path] = copy_room) -> Finished:
    """The room as the first worker that asked finished it; the others wait until it has."""
    base, name = factory.getbasetemp(), f"finished-{lay_out.__name__}"
    if sys.platform == "win32" or "PYTEST_XDIST_WORKER" not in os.environ:
        return _finish(base / name, lay_out)
    import fcntl

    with (base.parent / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        return _finish(base.parent / name, lay_out)


def run_without_pages(site: Path, *, narrate: Narrate = quiet, request: Request | None = None) -> RunResult:
    """A run of which nobody looks at the pages: all of it but them."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(flow, "_publish", lambda *told: told[3] / "index.html")  # the fourth is the folder
        return run_site(site, narrate=narrate, request=request or Request())


def _finish(folder: Path, lay_out: Callable[[Path], Path]) -> Finished:
    kept = folder / "result.pickle"
    if not kept.exists():
        shutil.rmtree(folder, ignore_errors=True)  # of a worker that failed
        folder.mkdir()
        result = run_site(lay_out(folder / "site"), narrate=quiet)
        kept.write_bytes(pickle.dumps(result))
    return Finished(folder / "site", pickle.loads(kept.read_bytes()))  # noqa: S301 - written above
