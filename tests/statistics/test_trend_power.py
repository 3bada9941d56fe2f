"""The least growth that a trend test finds, against its closed form and simulated machines."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.statistics import least_growth_found, military_handbook_test


def test_one_failure_has_a_closed_form() -> None:
    # Chi-square with two degrees is exponential: beta = ln(1 - 0.8) / ln(1 - 0.025) = 1.60944 / 0.0253178 = 63.57.
    assert least_growth_found(1, 0.05) == pytest.approx(math.log(0.2) / math.log(0.975))


def test_simulated_machines_are_found_four_times_of_five() -> None:
    draw, beta = np.random.default_rng(3), least_growth_found(12, 0.05)
    found = sum(military_handbook_test(draw.uniform(0, 1, 12) ** (1 / beta), 1.0)[1] < 0.05 for _ in range(2000))
    assert found / 2000 == pytest.approx(0.8, abs=3 * math.sqrt(0.16 / 2000))


def test_refused() -> None:
    with pytest.raises(ValueError, match="1 or more"):
        least_growth_found(0, 0.05)
    with pytest.raises(ValueError, match="level"):
        least_growth_found(3, 1.0)
