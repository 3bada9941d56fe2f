"""The replacement age against a published optimum, a closed-form case and a plain search."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from pipeline.statistics import replacement_age

Agrees = Callable[..., None]


def cost(age: float, shape: float, scale: float, planned: float, failure: float) -> float:
    """Cost per unit of time of replacing at this age, written out with scipy's quadrature."""
    survive = math.exp(-((age / scale) ** shape))
    uptime = integrate.quad(lambda t: math.exp(-((t / scale) ** shape)), 0, age, limit=200)[0]
    return (planned * survive + failure * (1 - survive)) / uptime


def test_published_optimum(agrees: Agrees) -> None:
    # ReliaWiki "Optimum Replacement Time Example" (493.0470, from memory); model of Barlow and Hunter (1960). The docs
    # of the package reliability print 493.19, a point of its plotting grid, and 0.0035.
    age, rate = replacement_age(2.5, 1000, 1, 5)
    agrees(age, "493.0470", 493.0469576)
    agrees(rate, "0.0035", 0.003462042739)
    assert rate < 0.00563530249  # running to failure: 5 / (1000 Gamma(1.4))


def test_no_finite_optimum_without_wear_out() -> None:
    # Barlow and Hunter (1960): constant hazard, the cost falls for ever to failure / mean life = 5 / 1000.
    assert replacement_age(1, 1000, 1, 5) == (math.inf, pytest.approx(0.005))
    # Falling hazard: mean life 1000 Gamma(3) = 2000 for shape 1/2.
    assert replacement_age(0.5, 1000, 1, 5) == (math.inf, pytest.approx(5 / 2000))


def test_running_to_failure_where_failing_costs_no_more() -> None:
    # Mean life 1000 Gamma(1.4) = 887.2638; published rate for cost 5 is 0.00563530249, so 0.2 of it for cost 1.
    assert replacement_age(2.5, 1000, 1, 1) == (math.inf, pytest.approx(0.00563530249 / 5, rel=1e-6))


def test_an_optimum_beyond_any_life_is_running_to_failure() -> None:
    # Shape 1.001: the optimum would lie where exp(-hazard) is below any float.
    assert replacement_age(1.001, 1000, 4.9, 5)[0] == math.inf


@settings(max_examples=40, deadline=None)
@given(st.floats(1.3, 6), st.floats(1, 1e4), st.floats(0.1, 10), st.floats(1.5, 50))
def test_no_other_age_costs_less(shape: float, scale: float, planned: float, factor: float) -> None:
    age, rate = replacement_age(shape, scale, planned, planned * factor)
    if math.isinf(age):
        return
    assert cost(age, shape, scale, planned, planned * factor) == pytest.approx(rate, rel=1e-6)
    for other in (0.8, 0.97, 1.03, 1.25):
        assert cost(age * other, shape, scale, planned, planned * factor) >= rate * (1 - 1e-9)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0, 1000, 1, 5), 'shape is "0"; allowed is a number above 0'),
        ((2, -1, 1, 5), "scale"),
        ((2, 1000, 0, 5), "cost_planned"),
        ((2, 1000, 1, math.inf), "cost_failure"),
    ],
)
def test_wrong_input_is_refused(arguments: tuple[float, float, float, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replacement_age(*arguments)
