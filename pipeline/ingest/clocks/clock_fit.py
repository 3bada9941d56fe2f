"""Offset, drift and a ± from the pairs of one piece of a machine's clock.

Theil–Sen, because a share of the pairs is always wrong. A drift that cannot be told from none is left out, so that a
clock with a constant offset is moved by exactly that offset.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.ingest.clocks.clock_evidence import Floats

PAIRS_FOR_DRIFT = 5
POINTS_AT_MOST = 300  # Theil–Sen looks at every pair of points; more pairs than this go in as medians of neighbours
DELAY_UNKNOWN_S = 0.15  # the mean delay from command to roll is not known better; common practice, no source
NORMAL_95 = 1.959963984540054
MAD_TO_SIGMA = 1.482602218505602


@dataclass(frozen=True)
class Fit:
    """Machine minus house at the last pair in s, drift in seconds a (house) second, ± in s (95 %)."""

    offset_s: float
    drift: float
    within_s: float


def fit_clock(house_s: Floats, machine_s: Floats, resolution_s: float) -> Fit:
    """The fit through pairs sorted by the machine's clock; at least one pair.

    ± = resolution + t·s·√(1/n + (x − x̄)²/Sxx) + d + w at the worse end of the pairs. s is 1.25 robust standard
    deviations (the price of a median), more with few pairs, d the part of the delay between command and roll that no
    number of pairs averages away (2.5 (1 + 3/√n) median deviations, at most DELAY_UNKNOWN_S), w what the clock wanders
    about its line. The factors were set by simulation to cover 95 %.
    """
    at = house_s - house_s[-1]
    offset = machine_s - house_s
    drift = 0.0
    if offset.size >= PAIRS_FOR_DRIFT:
        slope, low, high = theil_sen(at, offset)
        drift = slope if low > 0 or high < 0 else 0.0
    left_over = offset - drift * at
    level = float(np.median(left_over))
    within = resolution_s + _spread(at, left_over - level, drift != 0.0)
    return Fit(round(level, 6), drift, within)


def theil_sen(x: Floats, y: Floats) -> tuple[float, float, float]:
    """Median slope and its 95 % limits (Sen 1968, JASA 63:1379); above POINTS_AT_MOST from medians of neighbours.

    Returns (0, −inf, inf) when all x are equal.
    """
    first = 0.0
    if x.size > POINTS_AT_MOST:
        kept = np.linspace(0, x.size - 1, 60).astype(int)
        first = _median_slope(x[kept], y[kept])[0]
        groups = np.array_split(np.arange(x.size), POINTS_AT_MOST)
        y = np.array([np.median(y[group] - first * x[group]) for group in groups])
        x = np.array([x[group].mean() for group in groups])
    slope, low, high = _median_slope(x, y)
    return first + slope, first + low, first + high


def _median_slope(x: Floats, y: Floats) -> tuple[float, float, float]:
    one, other = np.triu_indices(x.size, 1)
    apart = x[other] - x[one]
    used = apart != 0
    if not used.any():
        return 0.0, -np.inf, np.inf
    slopes = np.sort((y[other] - y[one])[used] / apart[used])
    n = x.size
    _, tied = np.unique(y, return_counts=True)
    variance = (n * (n - 1) * (2 * n + 5) - float(np.sum(tied * (tied - 1) * (2 * tied + 5)))) / 18
    reach = NORMAL_95 * np.sqrt(max(variance, 0.0))
    low = max(round((slopes.size - reach) / 2) - 1, 0)
    high = min(round((slopes.size + reach) / 2), slopes.size - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])


def _spread(at: Floats, left_over: Floats, has_drift: bool) -> float:
    n = left_over.size
    through = (1 + int(has_drift)) if n > 2 else 0  # the line runs through so many points, which say nothing of scatter
    deviation = float(np.median(np.sort(np.abs(left_over))[through:]))
    sigma = 1.25 * MAD_TO_SIGMA * deviation * (1.0 + 2.0 / max(n - 2, 1))
    leverage = 1.0 / n
    centred = at - at.mean()
    if has_drift:
        leverage += float(np.max(centred**2) / np.sum(centred**2))
    freedom = n - 1 - int(has_drift)
    chance = _student(freedom) * sigma * np.sqrt(leverage) if freedom > 0 and sigma > 0 else 0.0
    scatter = 2.5 * deviation * (1.0 + 3.0 / math.sqrt(n))
    delay = min(scatter, DELAY_UNKNOWN_S) if n >= PAIRS_FOR_DRIFT else DELAY_UNKNOWN_S
    return float(chance) + delay + _wander(left_over, sigma)


def _student(freedom: int) -> float:
    """The factor within which 95 % of Student's t with ``freedom`` degrees lie."""
    from scipy.special import stdtrit  # noqa: PLC0415 - a large library; clocks without scatter do not need it

    return float(stdtrit(freedom, 0.975))


def _wander(left_over: Floats, sigma: float) -> float:
    """How far medians of eighths of the pairs stray beyond what chance gives; 0 with fewer than 40 pairs."""
    if left_over.size < 40:
        return 0.0
    eighths = np.array_split(left_over, 8)
    strayed = max(abs(float(np.median(eighth))) for eighth in eighths)
    return max(0.0, strayed - 3 * sigma / math.sqrt(left_over.size / 8))
