"""How many events to expect next: limits for a count that is still to come.

Limits of a rate say what the machine is like; they do not say how many faults the coming year will bring, because that
count has luck of its own. Prediction limits carry both, the doubt about the rate and the luck of the year.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray
from pipeline.statistics.trend import log_distances, read_systems

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)
_STEEPEST = 27.0  # e to it, 5e11 times what was seen, is more than any count; beyond, floats lose the odds
_LARGEST_EXPONENT = 300.0  # e to it is more than any loss, and its square is still a number
_LARGEST_COUNT = 1 << 40
_BINS = 1 << 14  # steps of the grid on which losses are added up
_BEYOND = 1e-4  # probability of more events than the grid has room for


@dataclass(frozen=True, eq=False)
class CountForecast:
    """The law of a future count: Poisson with a mean of `odds` times a gamma variable, averaged over the odds.

    The gamma variable, expected events so far, has shape `seen` for the low limit and `seen` + 1 for the high one:
    these are the two ends between which the exact limits of a Poisson mean place it.
    """

    seen: int
    odds: FloatArray  # expected events to come for each one expected so far; one or several equally possible values
    weights: FloatArray  # probability of each of the odds

    def at_least(self, count: int, shape: float) -> float:
        """Probability of `count` or more events where expected events so far are Gamma(`shape`)."""
        if count <= 0:
            return 1.0
        if shape == 0.0:
            return 0.0
        return float(self.weights @ special.betainc(count, shape, self.odds / (1.0 + self.odds)))

    def limits(self, confidence: float = 0.95) -> tuple[int, int]:
        """(low, high): the least count with P(N <= low), the largest with P(N >= high), above (1 - confidence) / 2."""
        tail = arguments.tail(confidence)
        low = _first(lambda count: self.at_least(count + 1, self.seen) < 1.0 - tail)
        high = _first(lambda count: self.at_least(count + 1, self.seen + 1) <= tail)
        return low, high

    def total_limits(self, losses: ArrayLike, confidence: float = 0.95) -> tuple[float, float]:
        """Limits of the sum of a loss for each event, each as one of the n `losses` seen, independently.

        The law of the sum is G(phi(u)), G the generating function of the count and phi the transform of the losses on a
        grid; each loss is shared between its two neighbours on the grid so that its mean is kept. Because n losses tell
        their mean only so well, all are scaled by exp(t c / sqrt(n)), c their coefficient of variation and t Student's
        with n - 1 degrees of freedom, averaged over by quadrature. That is a large-sample allowance: a loss much above
        the largest seen is not in it.

        Args:
            losses: losses of single events, 0 or more, two at least, zeros included.
            confidence: two-sided level.

        Returns:
            (low, high) in the unit of the losses.

        Raises:
            ValueError: fewer than two losses, one is negative, confidence is outside (0, 1).

        Reference: Klugman, Panjer and Willmot, Loss Models, the chapter on aggregate losses.
        """
        costs, tail = arguments.not_negative("losses", losses), arguments.tail(confidence)
        if costs.size < 2:
            raise arguments.refuse("the number of losses", costs.size, "2 or more")
        if not costs.any():
            return 0.0, 0.0
        return self._total(self.seen, costs, tail), self._total(self.seen + 1, costs, 1.0 - tail)

    def _total(self, shape: int, losses: FloatArray, share: float) -> float:
        most = _first(lambda count: self.at_least(count + 1, shape) <= _BEYOND)
        if most == 0:
            return 0.0
        width = (most * losses.mean() + 10.0 * math.sqrt(most * float((losses**2).mean())) + losses.max()) / _BINS
        spectrum = np.fft.rfft(_on_grid(losses / width))
        step = self.odds / (1.0 + self.odds)
        law = sum(w * ((1.0 - q) / (1.0 - q * spectrum)) ** shape for w, q in zip(self.weights, step, strict=True))
        below = np.cumsum(np.fft.irfft(law, _BINS))
        error = float(losses.std(ddof=1) / losses.mean() / math.sqrt(losses.size))
        spread = special.stdtrit(losses.size - 1, (1.0 + _NODES) / 2.0) * error
        scales = np.exp(np.clip(spread, -_LARGEST_EXPONENT, _LARGEST_EXPONENT))
        return float(width * _scaled_quantile(below, scales, share))


def forecast_steady(count: int, exposure: float, future_exposure: float) -> CountForecast:
    """The law of the next count where the rate stays what it is; see `poisson_prediction_limits`."""
    seen, past = arguments.count("count", count), arguments.positive("exposure", exposure)
    ahead = arguments.number("future_exposure", future_exposure)
    if ahead < 0.0:
        raise arguments.refuse("future_exposure", future_exposure, "a number of 0 or more")
    return CountForecast(seen, np.array([ahead / past]), np.ones(1))


def forecast_power_law(times: ArrayLike, end: float, future: float) -> CountForecast:
    """The law of the count over the next `future` hours of a power-law process; see `power_law_prediction_limits`."""
    systems, ahead = read_systems(times, arguments.positive("end", end)), arguments.number("future", future)
    if ahead < 0.0:
        raise arguments.refuse("future", future, "a number of 0 or more")
    n, log_sum = systems[0].inside.size, log_distances(systems)
    if log_sum == 0.0:
        raise arguments.refuse("times", systems[0].end, "some failure before the end: beta is infinite")
    beta = special.gammaincinv(n, (1.0 + _NODES) / 2.0) / log_sum
    return CountForecast(n, np.expm1(np.minimum(beta * math.log1p(ahead / end), _STEEPEST)), _WEIGHTS / 2.0)


def poisson_prediction_limits(
    count: int, exposure: float, future_exposure: float, confidence: float = 0.95
) -> tuple[int, int]:
    """Exact two-sided limits of the count to come, at a rate that stays what it was.

    Given the sum of both counts, x seen and y to come, y is binomial with share q = future / (exposure + future). Kept
    are all y whose lower and upper binomial tail both exceed a/2, a = 1 - confidence: high is the largest y with
    P(Y >= y) = I_q(y, x + 1) > a/2, low the least with P(Y <= y) = 1 - I_q(y + 1, x) > a/2. Coverage is at least
    `confidence` whatever the rate, usually more, because a count is whole.

    Assumes events that come one by one, independently, at one constant rate before and after.

    Args:
        count: events seen, a whole number.
        exposure: what they were seen in (hours ...), above 0.
        future_exposure: what is to come, in the same unit, 0 or more.
        confidence: two-sided level.

    Returns:
        (low, high), whole numbers, both inside the limits. At count 0, high is the largest y below ln(a/2) / ln q.

    Raises:
        ValueError: count is not a whole number of 0 or more, exposure is not above 0, future_exposure is negative,
            confidence is outside (0, 1).

    Reference: Nelson (1982), Applied Life Data Analysis, chapter 6; Hahn and Meeker (1991), Statistical Intervals,
    chapter 7 (conditional method); Krishnamoorthy and Peng (2011), J. Statist. Plann. Inference 141:1709-1718.
    """
    return forecast_steady(count, exposure, future_exposure).limits(confidence)


def power_law_prediction_limits(
    times: ArrayLike, end: float, future: float, confidence: float = 0.95
) -> tuple[int, int]:
    """Two-sided limits of the count to come of a machine that gets worse or better by a power law.

    Expected events by age t are scale * t^beta. With n events by the set end T and S = sum ln(T / t_i), beta given n is
    Gamma(n) / S (exact: 2 beta S is chi-square with 2 n degrees), and expected events by T are Gamma(n) for the low and
    Gamma(n + 1) for the high limit, as in the exact limits of a Poisson mean. Given beta, the count to come has mean
    (expected by T) * ((1 + future / T)^beta - 1) and is negative binomial; it is averaged over beta by 200-point
    Gauss-Legendre quadrature. No event to come has probability (1 + r ln(1 + future / T) / S)^-n, r the gamma shape.

    Assumes repair to as-bad-as-old and that the power law goes on as it did: a strong assumption far beyond the end.

    Args:
        times: running times of failure, above 0, any order, ties allowed; one at least, one of them before the end.
        end: the set end of watching, in the same unit.
        future: running time to come, 0 or more.
        confidence: two-sided level.

    Returns:
        (low, high), whole numbers, both inside the limits; high is at most 2^40.

    Raises:
        ValueError: a time is 0 or after the end, every failure is at the end, future is negative, confidence is outside
            (0, 1).

    Reference: Engelhardt and Bain (1978), Technometrics 20:167-169; Bain and Engelhardt (1991), Statistical Analysis of
    Reliability and Life-Testing Models, chapter 9.
    """
    return forecast_power_law(times, end, future).limits(confidence)


def _first(holds: Callable[[int], bool]) -> int:
    """The least count from which `holds` is true and stays so, by doubling and halving."""
    above = 1
    if holds(0):
        return 0
    while not holds(above) and above < _LARGEST_COUNT:
        above *= 2
    below = above // 2
    while above - below > 1:
        middle = (below + above) // 2
        below, above = (below, middle) if holds(middle) else (middle, above)
    return above


def _scaled_quantile(below: FloatArray, scales: FloatArray, share: float) -> float:
    """The quantile, in steps of the grid, of a variable times one of the scales, equally spread by the quadrature."""

    def is_reached(place: float) -> bool:
        places = np.minimum(place / scales, _BINS - 1).astype(np.int64)
        return float(_WEIGHTS @ below[places]) / 2.0 >= share - 1e-9

    low, high = 0.0, float((_BINS - 1) * scales.max())
    if is_reached(low):
        return 0.0
    while high - low > 0.5:
        middle = (low + high) / 2.0
        low, high = (low, middle) if is_reached(middle) else (middle, high)
        if high - low <= 1e-9 * high:
            break
    return high


def _on_grid(places: FloatArray) -> FloatArray:
    """Probabilities of the grid points 0, 1, 2 ... where each place, a number of steps, is shared by two of them."""
    below = np.floor(places).astype(np.int64)
    part = (places - below) / places.size
    grid = np.zeros(_BINS)
    np.add.at(grid, below, 1.0 / places.size - part)
    np.add.at(grid, np.minimum(below + 1, _BINS - 1), part)
    return grid
