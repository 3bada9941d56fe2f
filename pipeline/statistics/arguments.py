"""Refuses values no formula here can use, in one wording.

A statistic fed a negative count or a NaN answers with a plausible number or a silent NaN. Every public function of this
package passes its arguments through these checks first, so that a wrong input stops where it enters, with the value,
its name and what is allowed.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def refuse(name: str, value: object, allowed: str) -> ValueError:
    """The error to raise: which argument, which value, what is allowed."""
    return ValueError(f'{name} is "{value}"; allowed is {allowed}.')


def number(name: str, value: float) -> float:
    """`value` as a finite float; ValueError otherwise."""
    try:
        result = float(value)
    except (TypeError, ValueError):
        raise refuse(name, value, "a number") from None
    if not np.isfinite(result):
        raise refuse(name, value, "a finite number")
    return result


def positive(name: str, value: float) -> float:
    """`value` as a finite float above zero; ValueError otherwise."""
    result = number(name, value)
    if result <= 0.0:
        raise refuse(name, value, "a number above 0")
    return result


def count(name: str, value: float) -> int:
    """`value` as a whole number of zero or more; ValueError otherwise."""
    result = number(name, value)
    if result < 0.0 or result != round(result):
        raise refuse(name, value, "a whole number, 0 or more")
    return int(result)


def tail(confidence: float) -> float:
    """Probability left in each tail of a two-sided interval; ValueError unless 0 < confidence < 1."""
    level = number("confidence", confidence)
    if not 0.0 < level < 1.0:
        raise refuse("confidence", confidence, "a share between 0 and 1, such as 0.95")
    return (1.0 - level) / 2.0


def vector(name: str, values: ArrayLike) -> FloatArray:
    """`values` as a one-dimensional float array without NaN or infinity; ValueError otherwise."""
    try:
        result = np.asarray(values if hasattr(values, "__len__") or not isinstance(values, Iterable) else list(values))
        result = result.astype(np.float64)
    except (TypeError, ValueError):
        raise refuse(name, values, "a sequence of numbers") from None
    if result.ndim != 1:
        raise refuse(name, f"an array of {result.ndim} dimensions", "one dimension")
    if not np.isfinite(result).all():
        raise refuse(name, result[~np.isfinite(result)][0], "finite numbers only")
    return result


def not_negative(name: str, values: ArrayLike) -> FloatArray:
    """`values` as a one-dimensional array of numbers of zero or more; ValueError otherwise."""
    result = vector(name, values)
    if (result < 0.0).any():
        raise refuse(name, result.min(), "numbers of 0 or more")
    return result


def probabilities(name: str, values: ArrayLike) -> FloatArray:
    """`values` as a one-dimensional array of numbers from 0 to 1; ValueError otherwise."""
    result = not_negative(name, values)
    if (result > 1.0).any():
        raise refuse(name, result.max(), "numbers from 0 to 1")
    return result


def same_length(name_a: str, a: FloatArray, name_b: str, b: FloatArray) -> None:
    """ValueError unless the two arrays pair up."""
    if a.size != b.size:
        raise ValueError(f"{name_a} has {a.size} values and {name_b} has {b.size}; they must pair up one to one.")


def counts_and_exposures(counts: ArrayLike, exposures: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Paired whole counts and exposures; ValueError for a negative or broken count, or a count where nothing ran."""
    events, exposure = not_negative("counts", counts), not_negative("exposures", exposures)
    same_length("counts", events, "exposures", exposure)
    if (events != np.round(events)).any():
        raise refuse("counts", events[events != np.round(events)][0], "whole numbers")
    if ((exposure == 0.0) & (events > 0.0)).any():
        raise refuse("exposures", 0.0, "a number above 0 wherever the count is above 0")
    if exposure.sum() <= 0.0:
        raise refuse("the sum of exposures", exposure.sum(), "a number above 0")
    return events, exposure


def lifetimes(durations: ArrayLike, observed: ArrayLike) -> tuple[FloatArray, BoolArray]:
    """Paired durations (0 or more) and flags (true: the end was seen; false: cut short); ValueError otherwise."""
    times, flags = not_negative("durations", durations), vector("observed", observed)
    same_length("durations", times, "observed", flags)
    if not np.isin(flags, (0.0, 1.0)).all():
        raise refuse("observed", flags[~np.isin(flags, (0.0, 1.0))][0], "true or false")
    return times, flags.astype(np.bool_)
