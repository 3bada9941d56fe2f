"""What is run side by side: the engine's plain load, airhours in parts and whole, and the same job written by hand."""

import json
import shutil
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bench.speed.jobs.job import STATES, Sums
from bench.speed.measuring import AnswerError, Sample, run_program

AIRHOURS = (sys.executable, "-c", "from pipeline.cli import main; main()")
JOBS = ("pandas", "polars", "sqlite", "script")
PROGRAMS = {"pandas": "with_pandas", "polars": "with_polars", "sqlite": "with_sqlite", "script": "with_duckdb"}
MOST_LINES = {"pandas": 20_000_000, "sqlite": 20_000_000, "polars": 60_000_000}
SLOW = {"pandas", "polars", "sqlite", "years_run"}  # timed in fewer rounds: each takes as long as all the others
NEAR_S = 0.00001  # airhours adds seconds up as floating point, the others whole microseconds


def _nothing() -> None:
    """Nothing is to be made ready."""


@dataclass(frozen=True)
class Contender:
    """A program to time; ``prepare`` is run before it, untimed."""

    name: str
    command: Sequence[str]
    prepare: Callable[[], None] = _nothing
    allowed: tuple[int, ...] = (0,)

    def run(self) -> Sample:
        self.prepare()
        return run_program(self.command, allowed=self.allowed)


def job_command(program: str, *places: Path) -> list[str]:
    """How one of our own programs is begun."""
    return [sys.executable, "-m", f"bench.speed.jobs.{program}", *map(str, places)]


def run_command(site: Path, work: Path) -> list[str]:
    """How a whole run is begun, its database and pages in ``work``."""
    places = ["--database", str(work / "airhours.duckdb"), "--out", str(work / "reports")]
    return [*AIRHOURS, "run", str(site), *places, "--quiet"]


def whole_run(name: str, site: Path, work: Path) -> Contender:
    """airhours run from nothing; a check of the *stop* kind that fails is no failure of the run."""
    return Contender(name, run_command(site, work), lambda: empty(work), (0, 1))


def empty(folder: Path) -> None:
    """Make a folder anew."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)


def same_site(site: Path, work: Path, lines: int) -> list[Contender]:
    """Everything that is timed on one site with nothing loaded before."""
    return [
        *(_in_parts(name, program, site, work / name) for name, program in _PARTS.items()),
        whole_run("run", site, work / "run"),
        *(Contender(name, job_command(PROGRAMS[name], site)) for name in JOBS if lines <= MOST_LINES.get(name, lines)),
    ]


_PARTS = {"plain": "plain_load", "load": "airhours_load", "job": "airhours_job"}


def _in_parts(name: str, program: str, site: Path, work: Path) -> Contender:
    return Contender(name, job_command(program, site, work / "database.duckdb"), lambda: empty(work))


def standing_site(site: Path, finished: Path) -> list[Contender]:
    """What is timed on a site that was run: nothing new, one incident, and the help, which needs no site."""
    incidents = sorted(path.stem.removeprefix("incident-") for path in (finished / "reports").glob("incident-*.html"))
    places = ["--database", str(finished / "airhours.duckdb"), "--out", str(finished / "reports"), "--quiet"]
    middle = incidents[len(incidents) // 2 : len(incidents) // 2 + 1]
    return [
        Contender("again", run_command(site, finished), allowed=(0, 1)),
        *(Contender("incident", [*AIRHOURS, "incident", str(site), incident, *places]) for incident in middle),
        Contender("help", [*AIRHOURS, "--help"]),
    ]


def expected_answer(finished: Path, job: Mapping[str, Any]) -> dict[str, Any]:
    """What every contender must print: seconds by month and state as in the figures of a run, rows as airhours' job."""
    figures = json.loads((finished / "reports" / "data" / "figures.json").read_text(encoding="utf-8"))
    months: Sums = {
        row["month"]: {f"{state}_s": row[f"{state}_s"] for state in STATES} for row in figures["months"] if row["air_s"]
    }
    return {"months": months, "set_aside": job["set_aside"], "repeats": job["repeats"]}


def check_answer(name: str, said: Mapping[str, Any], expected: Mapping[str, Any]) -> None:
    """Refuse a contender that computes something else: it is no comparison.

    Raises:
        AnswerError: which month and state differ, or that rows were read otherwise.
    """
    if said["months"].keys() != expected["months"].keys():
        raise AnswerError(f"{name} finds the months {sorted(said['months'])}, a run {sorted(expected['months'])}.")
    for month, states in expected["months"].items():
        for state, seconds in states.items():
            other = said["months"][month][state]
            if abs(other - seconds) > NEAR_S:
                raise AnswerError(f"{name} finds {other} of {state} in {month}, a run {seconds}: no comparison.")
    for what in ("set_aside", "repeats"):
        if said[what] != expected[what]:
            raise AnswerError(f"{name} counts {said[what]} rows {what}, airhours {expected[what]}: no comparison.")
