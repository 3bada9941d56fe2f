"""Jumps in the pairs of one machine. Every series is made here, so where it jumps is known."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.ingest.clocks.clock_steps import find_steps

HOUSE = 3600.0 * np.arange(60.0)
TOLERANCE_S = 0.3


def steps(offset: np.ndarray) -> list[int]:
    return find_steps(HOUSE, HOUSE + offset, TOLERANCE_S)


def test_a_straight_line_has_none() -> None:
    assert steps(5.0 + 1e-4 * HOUSE) == []


@pytest.mark.parametrize("jump", [1.0, -1.0, 40.0])
@pytest.mark.parametrize("at", [5, 17, 30, 55])
def test_one_jump_is_found_at_its_pair(jump: float, at: int) -> None:
    drift = 80e-6 * HOUSE
    assert steps(drift + np.where(np.arange(60) >= at, jump, 0.0)) == [at]


def test_two_jumps() -> None:
    assert steps(np.repeat([0.0, 9.0, 2.0], 20)) == [20, 40]


def test_scatter_below_the_tolerance_is_no_jump() -> None:
    rng = np.random.default_rng(7)
    assert steps(rng.uniform(-0.125, 0.125, 60)) == []


def test_four_pairs_on_the_other_side_are_too_few() -> None:
    assert steps(np.where(np.arange(60) >= 56, 5.0, 0.0)) == []


def test_a_clock_that_wanders_is_left_to_its_limits() -> None:
    """A slow wave of ± 2 s bends, but nowhere do two lines part by more than the tolerance at one place."""
    assert steps(2.0 * np.sin(np.linspace(0, np.pi, 60))) == []


def test_too_few_pairs_to_say() -> None:
    assert find_steps(HOUSE[:9], HOUSE[:9] + np.repeat([0.0, 9.0], [5, 4]), TOLERANCE_S) == []
