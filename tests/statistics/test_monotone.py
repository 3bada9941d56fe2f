"""Slope and test of a creep, worked by hand."""

from __future__ import annotations

import pytest

from pipeline.statistics import monotone_drift


def test_five_readings_by_hand() -> None:
    # Slopes of the ten pairs, sorted: -1, -1, 1/3, 1/2, 3/4, 1, 1, 4/3, 2, 3; median (3/4 + 1) / 2. Eight pairs rise
    # and two fall: tau = 6/10. Of 120 orders of five, 1 + 4 + 9 = 14 have at most two falling pairs: p = 2 * 14 / 120.
    drift = monotone_drift([1, 2, 3, 4, 5], [1, 3, 2, 5, 4])
    assert drift is not None
    assert drift.slope == pytest.approx(0.875)
    assert drift.tau == pytest.approx(0.6)
    assert drift.p == pytest.approx(28 / 120)
    assert drift.low < 0.875 < drift.high


def test_a_straight_line_and_one_wild_reading() -> None:
    values = [2.0 + 0.1 * day for day in range(20)]
    values[7] = 500.0
    drift = monotone_drift(range(20), values)
    assert drift is not None
    assert drift.slope == pytest.approx(0.1)
    assert drift.p < 1e-6


def test_nothing_can_creep() -> None:
    assert monotone_drift([1, 2, 3], [4, 4, 4]) is None
    assert monotone_drift([2, 2, 2], [1, 5, 4]) is None


def test_refused() -> None:
    with pytest.raises(ValueError, match="3 or more"):
        monotone_drift([1, 2], [1, 2])
    with pytest.raises(ValueError, match="pair up"):
        monotone_drift([1, 2, 3], [1, 2])
