"""Several sites at once: runs of two of them do not see each other, and each has the figures of its own truth."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.simulate import Parameters, simulate_site
from tests.simulate.rooms import hold, truth_of


@pytest.mark.slow
def test_two_sites_are_run_at_the_same_time(tmp_path: Path) -> None:
    """Both are begun before either has ended; what they write lies in their own folders."""
    sites = [tmp_path / name for name in ("one", "other")]
    for seed, site in enumerate(sites, start=1):
        simulate_site(site, Parameters(seed=seed, channels=1, pairs=2, days=2))
    command = [str(Path(sys.executable).with_name("airhours")), "run"]
    runs = [subprocess.Popen([*command, str(site)], stdout=subprocess.PIPE, stderr=subprocess.PIPE) for site in sites]
    assert all(run.poll() is None for run in runs)
    for run in runs:
        _, told = run.communicate(timeout=900)
        assert run.returncode == 0, told.decode()
    for site in sites:
        figures = json.loads((site / "reports" / "data" / "figures.json").read_text(encoding="utf-8"))
        hold(figures, truth_of(site))
    assert {path.name for path in tmp_path.iterdir()} == {"one", "other"}
