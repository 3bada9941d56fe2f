"""The bench from end to end: sites, a run that all answers are held to, then rounds of everything in turn."""

import json
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bench.speed.contenders import (
    JOBS,
    SLOW,
    Contender,
    check_answer,
    empty,
    expected_answer,
    job_command,
    run_command,
    same_site,
    standing_site,
    whole_run,
)
from bench.speed.measuring import AnswerError, ProgramError, Sample, Spread, order_of_round, run_program, warm_files
from bench.speed.sites import Asked, count_lines, simulate, split_last_day
from bench.speed.targets import work_out

USED_UP = ("plain", "load", "job", "run", "profile")


@dataclass(frozen=True)
class Bench:
    """What is asked, where it is done, which programs alone (all if none), and whom to tell of progress."""

    asked: Asked
    work: Path
    only: frozenset[str]
    tell: Callable[[str], None]

    def chosen(self, contenders: Sequence[Contender]) -> list[Contender]:
        return [each for each in contenders if not self.only or each.name in self.only]


@dataclass
class Found:
    """What came of it."""

    figures: dict[str, Spread] = field(default_factory=dict)
    sizes: dict[str, int] = field(default_factory=dict)
    stages: list[Mapping[str, Any]] = field(default_factory=list)
    left_out: dict[str, str] = field(default_factory=dict)

    def leave_out(self, name: str, error: Exception) -> None:
        """Note why a program is missing; what a failed one said may name places of this machine, and is not kept."""
        self.left_out[name] = str(error) if isinstance(error, AnswerError) else "it failed"


def measure(bench: Bench) -> Found:
    """Measure everything.

    Raises:
        ProgramError: airhours cannot run the site.
        AnswerError: its load and models print other sums than its run.
    """
    found = Found()
    site, finished = _ready_site(bench, found)
    contenders = bench.chosen([*same_site(site, bench.work, bench.asked.lines), *standing_site(site, finished)])
    _hold_answers(bench, found, contenders, finished)
    if not bench.only:
        bench.tell("taking the profile")
        places = [empty_place(bench.work / "profile"), bench.work / "profile" / "reports"]
        found.stages = json.loads(run_program(job_command("airhours_stages", site, *places)).output)
    samples = run_rounds(bench, found, contenders)
    for name in USED_UP:  # a large database a program; the disk need not hold them all
        shutil.rmtree(bench.work / name, ignore_errors=True)
    samples |= run_rounds(bench, found, bench.chosen(_years(bench)))
    found.figures = work_out(samples)
    return found


def empty_place(folder: Path) -> Path:
    """A database in a folder made anew."""
    empty(folder)
    return folder / "airhours.duckdb"


def _ready_site(bench: Bench, found: Found) -> tuple[Path, Path]:
    """The site, and the folder of a finished run of it; both are warm then."""
    asked = bench.asked
    length = f"{asked.days} days" if asked.days else f"{asked.months} months"
    bench.tell(f"simulating about {asked.lines:,} lines over {length}")
    place = bench.work / f"site_of_{length.replace(' ', '_')}"
    site = simulate(place, asked.lines, months=asked.months, days=asked.days, mess=asked.mess, seed=asked.seed)
    found.sizes = {"event_lines": count_lines(site), "bytes": warm_files(site)}
    finished = bench.work / "finished"
    bench.tell("running it once, to hold all answers against")
    whole_run("finished", site, finished).run()
    found.sizes["database_bytes"] = (finished / "airhours.duckdb").stat().st_size
    return site, finished


def _hold_answers(bench: Bench, found: Found, contenders: Sequence[Contender], finished: Path) -> None:
    """Run each program of the job once and compare what it prints; one by hand that cannot do it is left out."""
    by_name = {each.name: each for each in contenders}
    own = json.loads(by_name["job"].run().output) if "job" in by_name else None
    if own is None:
        return
    expected = expected_answer(finished, own)
    check_answer("airhours' load and models", own, expected)
    for name in (name for name in JOBS if name in by_name):
        bench.tell(f"holding the answer of {name}")
        try:
            check_answer(name, json.loads(by_name[name].run().output), expected)
        except (AnswerError, ProgramError) as error:
            found.leave_out(name, error)
            bench.tell(str(error))
    for name in JOBS:
        if name not in by_name and not bench.only:
            found.left_out[name] = "not tried at this size"


def run_rounds(bench: Bench, found: Found, contenders: Sequence[Contender]) -> dict[str, list[Sample]]:
    """Every program once a round, in another order each round, slow ones in the first rounds only.

    One that fails is left out from then on, and said so.
    """
    by_name = {each.name: each for each in contenders if each.name not in found.left_out}
    samples: dict[str, list[Sample]] = {name: [] for name in by_name}
    for round_no in range(bench.asked.repeats if by_name else 0):
        for name in order_of_round(list(by_name), round_no):
            if name in found.left_out or (name in SLOW and round_no >= bench.asked.slow_repeats):
                continue
            try:
                sample = by_name[name].run()
            except ProgramError as error:
                found.leave_out(name, error)
                bench.tell(str(error))
                continue
            samples[name].append(sample)
            bench.tell(f"round {round_no + 1}: {name} {sample.wall_s:.2f} s, {sample.cpu_s:.2f} s of CPU")
    return {name: rounds for name, rounds in samples.items() if name not in found.left_out}


def _years(bench: Bench) -> list[Contender]:
    """The whole run of a site of three years, and a day added to what a run of the days before had left."""
    if bench.only and not bench.only & {"years_run", "day"}:
        return []
    asked = bench.asked
    bench.tell(
        f"simulating about {asked.years_lines:,} lines over {asked.years_months} months, the last day laid apart"
    )
    years = simulate(bench.work / "years", asked.years_lines, months=asked.years_months, mess=0.0, seed=asked.seed)
    before, after = bench.work / "years_before", bench.work / "years_after"
    split_last_day(years, before, after)
    warm_files(after)
    held, worked = bench.work / "years_held", bench.work / "day"
    bench.tell("running it without its last day")
    whole_run("held", before, held).run()

    def put_back() -> None:
        shutil.rmtree(worked, ignore_errors=True)
        shutil.copytree(held, worked)

    run = whole_run("years_run", after, bench.work / "years_run")
    return [run, Contender("day", run_command(after, worked), put_back, (0, 1))]
