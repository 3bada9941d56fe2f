"""Numbers as figures.json can hold them: what has no end, or is not known, is None."""

from __future__ import annotations

import math


def finite(number: float) -> float | None:
    """The number, or None where it is infinite or not a number."""
    return number if math.isfinite(number) else None


def finite_limits(value: float, low: float, high: float) -> dict[str, float | None]:
    """A value with its limits, each as ``finite`` gives it."""
    return {"value": finite(value), "low": finite(low), "high": finite(high)}
