"""What has no end, or is not known, is None in figures.json; anything else stays the number it was."""

import math

import pytest

from pipeline.measure.transports.finite import finite, finite_limits


@pytest.mark.parametrize("number", [0.0, -1.5, 3, 1e308])
def test_a_number_stays(number: float) -> None:
    assert finite(number) is number


@pytest.mark.parametrize("number", [math.inf, -math.inf, math.nan])
def test_what_json_cannot_hold_is_none(number: float) -> None:
    assert finite(number) is None


def test_limits_go_one_by_one() -> None:
    assert finite_limits(2.0, 0.0, math.inf) == {"value": 2.0, "low": 0.0, "high": None}
    assert finite_limits(math.nan, 0.0, math.inf) == {"value": None, "low": 0.0, "high": None}
