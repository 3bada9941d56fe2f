"""A room is told right from wrong, and small from large."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bench.speed.measuring import Sample
from bench.speed.targets import GIB
from bench.speed.truth import find_wrong, is_small, main, tell


def test_memory_is_held_to_the_limit_of_the_whole_run() -> None:
    assert is_small(Sample(1, 1, 2 * GIB - 1))
    assert not is_small(Sample(1, 1, 2 * GIB))
    assert tell(Sample(1, 2, 3 * GIB // 2)) == ["1.0 s, 2.0 s of CPU", "peak memory 1.50 GiB, below 2.0 GiB: met"]


@pytest.mark.slow
def test_a_small_room_is_as_its_truth_and_a_changed_truth_is_seen(tmp_path: Path, capsys) -> None:
    assert main(["--lines", "20000", "--folder", str(tmp_path)]) == 0
    assert "every figure is as the truth has it" in capsys.readouterr().out
    truth = tmp_path / "site" / "truth.json"
    told = json.loads(truth.read_text())
    told["total"]["lost_s"] += 1
    truth.write_text(json.dumps(told))
    assert "lost_s" in find_wrong(tmp_path / "site", tmp_path / "run" / "reports")
