"""How sure it is that a choice is the cheapest, when what it costs hangs on a rate that is known only within limits."""

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray, IntArray

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_LEVELS = np.array([1e-15, 1e-9, 1e-6, 1e-4, 1e-2, *np.linspace(0.05, 0.95, 19), 0.99, 1 - 1e-4, 1 - 1e-6, 1 - 1e-9])
_TINY = 1e-300  # below it there is no rate, only a logarithm that must not break


def chance_cheapest(
    fixed: ArrayLike, slopes: ArrayLike, law: tuple[float, float], other: tuple[int, float, float] | None = None
) -> FloatArray:
    """Probability that each choice costs least, where choice i costs fixed[i] + slopes[i] * rate.

    rate follows Gamma(shape, rate parameter) = ``law``, such as the posterior of a machine's rate of failures.
    ``other`` = (i, shape, rate parameter): the rate in the cost of choice i is another, independent one with that law,
    such as that of a new machine. Without it the straight lines cross at known rates, and each probability is a sum of
    differences of the distribution function. With it, P(j costs least) = integral over the stretches where j is the
    lowest line of f(x) P(fixed[i] + slopes[i] Y > line_j(x)) dx, by Gauss-Legendre quadrature between the crossings
    and the quantiles of ``law``.

    Args:
        fixed: what each choice costs whatever the rate, shape (n,), n >= 1.
        slopes: what one more of the rate adds to each, 0 or more, shape (n,).
        law: shape and rate parameter of the gamma law, both above 0.
        other: see above; None where all choices share one rate.

    Returns:
        Array of shape (n,), sums to 1. Of choices that cost the same, the first has it.

    Raises:
        ValueError: an array is empty, they do not pair up, a slope is negative, a parameter is not above 0, or the
            index of ``other`` names no choice.

    Reference: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., 2.6 (gamma law of a Poisson rate).
    """
    base, slope = arguments.vector("fixed", fixed), arguments.not_negative("slopes", slopes)
    arguments.same_length("fixed", base, "slopes", slope)
    if not base.size:
        raise arguments.refuse("fixed", "empty", "one number or more")
    shape, rate = arguments.positive("shape", law[0]), arguments.positive("rate", law[1])
    if other is None:
        return _on_one_rate(base, slope, shape, rate)
    which, other_shape, other_rate = other
    if which not in range(base.size):
        raise arguments.refuse("other", which, f"an index from 0 to {base.size - 1}")
    other_law = arguments.positive("other shape", other_shape), arguments.positive("other rate", other_rate)
    if base.size == 1:
        return np.ones(1)
    return _on_two_rates(base, slope, (shape, rate), (which, *other_law))


def _on_one_rate(base: FloatArray, slope: FloatArray, shape: float, rate: float) -> FloatArray:
    edges = _crossings(base, slope)
    middles = np.concatenate(([edges[0] / 2], (edges[:-1] + edges[1:]) / 2, [2 * edges[-1]])) if edges.size else [1.0]
    reached = special.gammainc(shape, rate * np.concatenate(([0.0], edges)))
    masses = np.diff(np.append(reached, 1.0))
    chances = np.zeros(base.size)
    np.add.at(chances, _lowest(base, slope, np.asarray(middles)), masses)
    return chances


def _on_two_rates(
    base: FloatArray, slope: FloatArray, law: tuple[float, float], other: tuple[int, float, float]
) -> FloatArray:
    which, other_shape, other_rate = other
    rest = np.delete(np.arange(base.size), which)
    level = np.append(base[rest], base[which])  # a flat line where the other rate would have to be 0
    cuts = _crossings(level, np.append(slope[rest], 0.0))
    x, weight = _nodes(law, cuts)
    lowest = _lowest(base[rest], slope[rest], x)
    spare = base[rest][lowest] + slope[rest][lowest] * x - base[which]
    if slope[which] > 0.0:
        dearer = special.gammaincc(other_shape, other_rate * np.maximum(spare, 0.0) / slope[which])
    else:
        dearer = (spare <= 0.0) if rest[0] < which else (spare < 0.0)
    chances = np.zeros(base.size)
    np.add.at(chances, rest[lowest], weight * dearer)
    chances[which] = max(0.0, 1.0 - float(chances.sum()))
    return np.asarray(chances / chances.sum())


def _nodes(law: tuple[float, float], cuts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nodes x and weights f(x) dx, on the log scale, where a density that is infinite at 0 is smooth too."""
    shape, rate = law
    spread = np.maximum(special.gammaincinv(shape, _LEVELS) / rate, _TINY)
    inside = cuts[(cuts > spread[0]) & (cuts < spread[-1])]
    edges = np.unique(np.log(np.concatenate((spread, inside))))
    half = np.diff(edges)[:, None] / 2.0
    x = np.exp(edges[:-1, None] + half * (1.0 + _NODES)).ravel()
    density = np.exp(shape * np.log(rate * x) - rate * x - special.gammaln(shape))
    weight = (half * _WEIGHTS).ravel() * density
    return x, np.asarray(weight / weight.sum())


def _crossings(base: FloatArray, slope: FloatArray) -> FloatArray:
    """The rates above 0 at which two of the lines cost the same, in order."""
    rise = slope[:, None] - slope[None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        places = (base[None, :] - base[:, None]) / rise
    return np.unique(places[(rise != 0.0) & np.isfinite(places) & (places > 0.0)])


def _lowest(base: FloatArray, slope: FloatArray, x: FloatArray) -> IntArray:
    """The lowest line at each rate, the first of equals."""
    return np.asarray(np.argmin(base[:, None] + slope[:, None] * x[None, :], axis=0), dtype=np.int64)
