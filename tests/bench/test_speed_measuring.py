"""What a program took, ratios taken round by round, and the day that is laid apart."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bench.speed.__main__ import read_arguments
from bench.speed.contenders import Contender
from bench.speed.jobs.airhours_stages import STAGES, Watch, tell_stages
from bench.speed.measuring import ProgramError, Sample, Spread, order_of_round, ratio_of, run_program, warm_files
from bench.speed.rounds import Bench, Found, run_rounds
from bench.speed.sites import DAY_FILE, Asked, count_lines, split_last_day
from bench.speed.targets import GIB, TARGETS, work_out

MIB = 1024**2
ROOT = Path(__file__).resolve().parents[2]


MEASURED = f"""
import dataclasses, json, sys
from bench.speed.measuring import run_program
large = run_program([sys.executable, "-c", "held = bytearray(300 * {MIB}); print(len(held))"])
small = run_program([sys.executable, "-c", "import time; time.sleep(0.2)"])
print(json.dumps([dataclasses.asdict(large), dataclasses.asdict(small)]))
"""


def test_a_program_is_measured_alone() -> None:
    """From a small process, as `make bench` is: a child is never seen below the peak of whoever begins it."""
    told = subprocess.run([sys.executable, "-c", MEASURED], cwd=ROOT, check=True, capture_output=True, text=True)
    large, small = (Sample(**each) for each in json.loads(told.stdout))
    assert large.output == f"{300 * MIB}\n"
    assert 300 * MIB <= large.peak_bytes < 400 * MIB
    assert small.peak_bytes < 300 * MIB  # the one before leaves nothing behind
    assert small.wall_s >= 0.2
    assert small.cpu_s < small.wall_s  # it slept


def test_a_program_that_fails_is_not_timed() -> None:
    with pytest.raises(ProgramError, match="no such room"):
        run_program([sys.executable, "-c", "import sys; sys.exit('no such room')"])
    run_program([sys.executable, "-c", "import sys; sys.exit(1)"], allowed=(0, 1))


def test_a_ratio_is_taken_within_each_round() -> None:
    # Rounds 3/1, 8/2, 10/5: 3, 4, 2. The ratio of the medians would be 8/2 = 4.
    assert ratio_of([3, 8, 10], [1, 2, 5]) == Spread(3, 2, 4)


def test_every_round_has_another_order() -> None:
    orders = [order_of_round(["a", "b", "c"], number) for number in range(4)]
    assert orders == [["a", "b", "c"], ["b", "c", "a"], ["c", "a", "b"], ["a", "b", "c"]]


def test_figures_come_from_the_samples() -> None:
    def took(*wall_s: float, cpu_s: float = 1.0, gib: int = 1) -> list[Sample]:
        return [Sample(each, cpu_s, gib * GIB) for each in wall_s]

    samples = {
        "plain": took(1, 2, 2), "run": took(3, 4, 8, gib=3), "job": took(2, 2, 2), "polars": took(3, 1, 2),
        "again": took(1, 1, 1, cpu_s=0.7), "help": took(1, 1, 1, cpu_s=0.2), "years_run": took(50, 60, 40),
        "day": took(1, 1, 1),
    }  # fmt: skip
    found = work_out(samples)
    assert found["run_to_plain"] == Spread(3, 2, 4)  # 3/1, 4/2, 8/2
    assert found["polars_to_job"] == Spread(1, 0.5, 1.5)
    assert found["again_cpu"].median == pytest.approx(0.5)
    assert found["run_peak"] == Spread(3, 3, 3)
    assert found["day_to_run"] == Spread(1 / 50, 1 / 60, 1 / 40)
    assert "load_to_plain" not in found  # the load was not run
    assert found.keys() <= {target.name for target in TARGETS}


def test_every_figure_can_be_worked_out() -> None:
    names = {
        "plain",
        "load",
        "job",
        "run",
        "pandas",
        "sqlite",
        "polars",
        "script",
        "again",
        "help",
        "incident",
        "years_run",
        "day",
    }
    assert work_out({name: [Sample(1.0, 1.0, GIB)] for name in names}).keys() == {target.name for target in TARGETS}


def test_stages_are_where_the_run_looks_them_up() -> None:
    import importlib

    for stage, parent, module, name in STAGES:
        assert callable(getattr(importlib.import_module(module), name)), stage
        assert parent == "" or parent in {each[0] for each in STAGES}


def test_stages_add_up_to_the_whole() -> None:
    watch, models = Watch(), Watch()
    for stage, seconds in (("whole run", 10.0), ("load", 4.0), ("clocks", 1.0), ("models", 3.0)):
        watch.add(stage, seconds, seconds / 2)
    models.add("core_feed", 2.0, 2.0)
    rows = tell_stages(watch, models)
    assert [(row["stage"], row["within"], row["wall_s"]) for row in rows] == [
        ("whole run", "", 10.0), ("load", "", 4.0), ("clocks", "load", 1.0), ("models", "", 3.0),
        ("core_feed", "models", 2.0), ("all else", "", 3.0),  # 10 − 4 − 3
    ]  # fmt: skip


@pytest.fixture
def site(tmp_path: Path) -> Path:
    folder = tmp_path / "site"
    (folder / "events").mkdir(parents=True)
    (folder / "site.toml").write_text("frame_rate = 25\n")
    head = "at,machine,event,value,detail\n"
    (folder / "events" / "a.csv").write_text(f"{head}2031-03-01T10:00:00Z,A,roll,,\n2031-03-02T10:00:00Z,A,stop,,\n")
    (folder / "events" / "b.csv").write_text(f"{head}2031-03-01T11:00:00Z,B,alive,,\n")
    (folder / "switches.csv").write_text("at,action\n2031-03-01T10:00:00Z,start\n2031-03-02T09:00:00Z,take\n")
    (folder / "tickets.csv").write_text("ticket,machine,opened\nF1,A,2031-03-01T12:00:00Z\nF2,A,2031-03-02T12:00:00Z\n")
    (folder / "bookings.csv").write_text("booking,starts\nK1,2031-03-02T09:00:00Z\n")
    return folder


def test_the_last_day_comes_as_rooms_give_it(site: Path, tmp_path: Path) -> None:
    before, after = tmp_path / "before", tmp_path / "after"
    assert split_last_day(site, before, after) == "2031-03-02"
    assert (count_lines(site), count_lines(before), count_lines(after)) == (3, 2, 3)
    assert (after / "events" / DAY_FILE).read_text().splitlines()[1:] == ["2031-03-02T10:00:00Z,A,stop,,"]
    for name in ("a.csv", "b.csv"):
        early, late = before / "events" / name, after / "events" / name
        assert early.stat().st_mtime_ns == late.stat().st_mtime_ns  # an unchanged file looks unchanged
    for name, rows in (("switches.csv", 2), ("tickets.csv", 2)):
        text = (before / name).read_text()
        assert len(text.splitlines()) == rows
        assert (after / name).read_text() == (site / name).read_text()  # it grew at its end
    assert (before / "bookings.csv").read_text() == (site / "bookings.csv").read_text()  # booked ahead


def test_files_are_read_to_the_last_byte(site: Path) -> None:
    assert warm_files(site) == sum(path.stat().st_size for path in site.rglob("*") if path.is_file())


def _says(name: str, code: str) -> Contender:
    return Contender(name, [sys.executable, "-c", code])


def test_one_that_fails_is_left_out_and_the_rest_goes_on(tmp_path: Path) -> None:
    told: list[str] = []
    bench, found = Bench(Asked(1, 1, 2, 1, 0.0), tmp_path, frozenset(), told.append), Found()
    samples = run_rounds(bench, found, [_says("good", "print(1)"), _says("bad", "import sys; sys.exit('/some/place')")])
    assert [len(rounds) for rounds in samples.values()] == [2]
    assert found.left_out == {"bad": "it failed"}  # what it said is told, and not kept
    assert any("/some/place" in sentence for sentence in told)


def test_each_is_made_ready_before_every_round(tmp_path: Path) -> None:
    made: list[int] = []
    each = Contender("one", [sys.executable, "-c", ""], prepare=lambda: made.append(1))
    run_rounds(Bench(Asked(1, 1, 3, 1, 0.0), tmp_path, frozenset(), lambda _: None), Found(), [each])
    assert len(made) == 3


@pytest.mark.parametrize(("lines", "days"), [(1_000, 1), (1_000_000, 1), (10_000_000, 14), (100_000_000, 145)])
def test_at_a_rate_more_lines_are_a_longer_record(lines: int, days: int) -> None:
    # Eight machines that say a line a second write 691,200 a day: 1.4 days, 14.5 and 144.7.
    asked, _ = read_arguments(["--lines", str(lines), "--date", "2031-03-01", "--revision", "abc1234"])
    assert (asked.rate, asked.days) == (1.0, days)


@pytest.mark.parametrize(
    ("said", "is_kept"), [([], True), (["--only", "run"], False), (["--record", "--only", "run"], True)]
)
def test_a_part_is_recorded_where_that_is_asked_for(said: list[str], is_kept: bool) -> None:
    _, options = read_arguments([*said, "--date", "2031-03-01", "--revision", "abc1234"])
    assert options.keep_no_record is not is_kept


def test_months_stand_for_the_rate() -> None:
    asked, _ = read_arguments(["--months", "12", "--date", "2031-03-01", "--revision", "abc1234"])
    assert (asked.rate, asked.days, asked.months) == (0.0, 0, 12)


def test_slow_programs_are_in_the_first_rounds_only(tmp_path: Path) -> None:
    bench, found = Bench(Asked(1, 1, 3, 1, 0.0, slow_repeats=2), tmp_path, frozenset(), lambda _: None), Found()
    samples = run_rounds(bench, found, [_says("job", "print(1)"), _says("pandas", "print(1)")])
    assert {name: len(rounds) for name, rounds in samples.items()} == {"job": 3, "pandas": 2}
    ratio = work_out(samples)["pandas_to_job"]
    pairs = zip(samples["pandas"], samples["job"], strict=False)
    assert ratio == ratio_of(*zip(*((slow.wall_s, job.wall_s) for slow, job in pairs), strict=True))
