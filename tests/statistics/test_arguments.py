"""Every refusal names the value and says what is allowed."""

import math

import numpy as np
import pytest

from pipeline.statistics import arguments


def test_refusal_names_argument_value_and_what_is_allowed() -> None:
    with pytest.raises(ValueError, match=r'^trials is "-1"; allowed is a whole number, 0 or more\.$'):
        arguments.count("trials", -1)


@pytest.mark.parametrize("value", [math.nan, math.inf, "many", None, 2.5, -1])
def test_count_takes_whole_numbers_only(value: object) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        arguments.count("count", value)  # type: ignore[arg-type]


def test_count_takes_what_arrays_hold() -> None:
    assert arguments.count("count", np.int64(3)) == 3
    assert arguments.count("count", 3.0) == 3


@pytest.mark.parametrize("confidence", [0, 1, 95, -0.1, math.nan])
def test_confidence_is_a_share(confidence: float) -> None:
    with pytest.raises(ValueError, match="confidence"):
        arguments.tail(confidence)


@pytest.mark.parametrize("values", [[1.0, math.nan], [[1.0], [2.0]], ["a"], 3.0, [1.0, math.inf]])
def test_vector_refuses_what_is_not_a_row_of_numbers(values: object) -> None:
    with pytest.raises(ValueError, match="x is"):
        arguments.vector("x", values)  # type: ignore[arg-type]


def test_vector_takes_any_sequence() -> None:
    for values in ([1, 2], (1.0, 2.0), np.array([1, 2]), range(1, 3), (v for v in (1, 2))):
        assert arguments.vector("x", values).tolist() == [1.0, 2.0]  # type: ignore[arg-type]
    assert arguments.vector("x", []).size == 0


def test_lifetimes_must_pair_up_and_flags_be_true_or_false() -> None:
    with pytest.raises(ValueError, match="durations has 2 values and observed has 1"):
        arguments.lifetimes([1, 2], [True])
    with pytest.raises(ValueError, match="observed"):
        arguments.lifetimes([1, 2], [1, 2])
    with pytest.raises(ValueError, match="durations"):
        arguments.lifetimes([1, -2], [1, 1])


def test_events_need_exposure() -> None:
    with pytest.raises(ValueError, match="exposures"):
        arguments.counts_and_exposures([1, 1], [0, 5])
    with pytest.raises(ValueError, match="sum of exposures"):
        arguments.counts_and_exposures([0], [0])
    with pytest.raises(ValueError, match="whole"):
        arguments.counts_and_exposures([0.5], [1])


def test_probabilities_lie_from_0_to_1() -> None:
    assert arguments.probabilities("p_values", [0, 0.5, 1]).tolist() == [0.0, 0.5, 1.0]
    assert arguments.probabilities("p_values", []).size == 0
    with pytest.raises(ValueError, match=r'p_values is "1.5"; allowed is numbers from 0 to 1'):
        arguments.probabilities("p_values", [0.2, 1.5])
    with pytest.raises(ValueError, match="p_values"):
        arguments.probabilities("p_values", [-0.1])
