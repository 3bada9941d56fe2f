"""Simulated rooms through the whole program: every figure that the truth holds must come out, to the microsecond.

The truth is what the scenes state, added up; nothing of it was read from the lines or worked out by a model.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from pipeline.flow import run_site
from pipeline.simulate import Parameters, simulate_site
from tests.finished_room import quiet
from tests.simulate.rooms import hold, hold_room, truth_of

ROUGH = Parameters(
    days=2, pairs=2, faults=300.0, handovers=200.0, unprotected=0.05, missing=0.05, lines_per_second=0.01
)  # fmt: skip
ROOMS = {
    "calm": Parameters(days=1, pairs=2, faults=0, handovers=0, unprotected=0, missing=0),
    "rough": replace(ROUGH, seed=5, days=3),
    "no chatter, so that machines log no `alive`": replace(ROUGH, seed=6, pairs=3, lines_per_second=0),
    "a little chatter of the hour meter": replace(ROUGH, seed=7, lines_per_second=0.005),
    "clocks off": replace(ROUGH, seed=8, days=3, pairs=3, clock_error=120),
    "a mess": replace(ROUGH, seed=9, mess=0.3),
    "a month's end, clocks off and a mess": replace(
        ROUGH, seed=10, first_day=date(2031, 3, 29), days=4, programmes=7, day_starts="06:00", clock_error=40, mess=0.1
    ),
}
EVERY_DAY = ("rough", "a month's end, clocks off and a mess")  # the others differ from these in one thing each


@pytest.mark.parametrize(
    "name", [name if name in EVERY_DAY else pytest.param(name, marks=pytest.mark.slow) for name in ROOMS]
)
def test_figures_equal_the_truth(name: str, tmp_path: Path) -> None:
    truth = hold_room(tmp_path / "site", ROOMS[name])
    wrong = [clock["offset_s"] for clock in truth["clocks"] if clock["offset_s"]]
    assert bool(wrong) == (ROOMS[name].clock_error > 0)
    assert bool(truth["rows"]["repeats"] and truth["rows"]["set_aside"]) == (ROOMS[name].mess > 0)


def test_the_rough_rooms_hold_every_state_and_kind_of_event(tmp_path: Path) -> None:
    simulate_site(tmp_path / "site", Parameters(days=20, faults=300, handovers=200, lines_per_second=0))
    total = truth_of(tmp_path / "site")["total"]
    empty = {name for name, value in total.items() if value in (0, 0.0, [])}
    assert empty == {"elsewhere_s"}  # no scene feeds air from a machine outside the transmission


@pytest.mark.slow
def test_the_whole_run_says_what_is_true(tmp_path: Path) -> None:
    site = tmp_path / "site"
    simulate_site(site, ROOMS["rough"])
    run = run_site(site, narrate=quiet)
    hold(run.figures, truth_of(site))
    assert not run.is_stopped
    assert not run_site(site, narrate=quiet).is_changed


@st.composite
def parameters(draw: st.DrawFn) -> Parameters:
    pairs = draw(st.integers(1, 3))
    return Parameters(
        seed=draw(st.integers(0, 2**63 - 1)),
        pairs=pairs,
        channels=draw(st.integers(1, min(2, pairs))),
        days=draw(st.integers(1, 3)),
        first_day=draw(st.dates(date(2025, 1, 1), date(2035, 12, 31))),
        zone=draw(st.sampled_from(("UTC", "Europe/Stockholm", "America/St_Johns", "Pacific/Auckland"))),
        day_starts=draw(st.sampled_from(("00:00", "06:00", "05:30"))),
        programmes=draw(st.integers(2, 24)),
        lines_per_second=draw(st.sampled_from((0.0, 0.003, 0.01, 0.03))),
        faults=draw(st.sampled_from((0.0, 100.0, 250.0))),
        handovers=draw(st.sampled_from((0.0, 50.0))),
        clock_error=draw(st.sampled_from((0.0, 1.0, 300.0))),
        mess=draw(st.sampled_from((0.0, 0.01, 0.3))),
    )


@pytest.mark.lengthy
@given(parameters())
@examples(max_examples=12, suppress_health_check=list(HealthCheck))
def test_figures_equal_the_truth_whatever_the_parameters(given_parameters: Parameters) -> None:
    with tempfile.TemporaryDirectory() as folder:
        hold_room(Path(folder) / "site", given_parameters)
