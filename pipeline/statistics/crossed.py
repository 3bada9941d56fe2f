"""Rates that two or more things made together: the machine that plays, the machine that recorded, the reel.

A fault at playback has a player, a recorder and a reel at once, and each played only some of the others. Fitted
together, each is judged with the others allowed for, and levels with little exposure are drawn towards the rest.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray, IntArray
from pipeline.statistics.crossed_solving import Design, Solved, slopes, solve

_ALIKE = 1e-6  # log-likelihoods no further apart are one
_LEAST, _MOST = math.log(1e-3), math.log(10.0)  # where the standard deviation of a factor is looked for, as logs


@dataclass(frozen=True, eq=False)
class FactorEffects:
    """One factor's levels, in order of first appearance; arrays of shape (levels,)."""

    levels: tuple[str, ...]
    variance: float  # of the log effects; 0 where the counts show no spread, infinite where no penalty was asked for
    log_effect: FloatArray  # less their mean, weighed with exposure
    ratio: FloatArray  # rate against the other levels (their mean log, weighed with exposure); NaN with one level only
    low: FloatArray
    high: FloatArray

    def columns(self) -> dict[str, FloatArray]:
        """The arrays by name, one row a level, ready for a data frame."""
        return {name: getattr(self, name) for name in ("log_effect", "ratio", "low", "high")}


@dataclass(frozen=True, eq=False)
class CrossedFit:
    """Every factor's effects, and how well the whole fits."""

    rate: float  # events per unit of exposure where every effect is at its factor's mean
    deviance: float
    log_marginal: float  # Laplace, less the terms of the counts alone; NaN where no factor has a penalty
    factors: Mapping[str, FactorEffects]


def crossed_poisson(
    counts: ArrayLike,
    exposures: ArrayLike,
    factors: Mapping[str, Sequence[str]],
    *,
    variances: Mapping[str, float] | None = None,
    off_zero: bool = False,
    confidence: float = 0.95,
) -> CrossedFit:
    """Poisson rates as products of crossed factors' effects, with normal random effects on the log scale.

    count_i ~ Poisson(exposure_i exp(b + Σ_f u_f[level_f(i)])), u_f[l] ~ N(0, v_f), b with a flat prior. Factors may be
    crossed or nested, as reels in recorders; a nested level must have a name of its own. The variances v maximise the
    Laplace approximation of the marginal likelihood, l(b, u) − ½ Σ_f (Σ u² / v_f + n_f ln v_f) − ½ ln |H|, at the mode
    (b, u) with H the information there, the intercept's included (as in REML). With `off_zero`, ½ ln v_f is added for
    every estimated factor: the mode under a Gamma(2, 0) prior of the standard deviation, which keeps it off 0 by about
    one standard error, so that limits of a few levels do not shrink to nothing. Limits are normal on the log scale,
    from the inverse of H, with the variances taken as known.

    Assumes that faults come independently given the effects, and that effects multiply.

    Args:
        counts: events of each cell, whole numbers, shape (n,).
        exposures: exposure of each cell, shape (n,); cells without exposure are left out.
        factors: name of each factor → the level of every cell, shape (n,); one factor or more.
        variances: factors whose variance is given and not estimated; infinity is no penalty, which makes the fit that
            of a Poisson regression with these factors.
        off_zero: see above.
        confidence: two-sided level of the limits.

    Returns:
        CrossedFit. Effects of levels that no exposure links (see `find_inseparable`) rest on the penalty alone.

    Raises:
        ValueError: a count or exposure is negative, not finite or not whole, lengths differ, no factor, no event at
            all, a given variance is not above 0 or of no factor, or an unpenalised level has no finite estimate.

    Reference: Breslow and Clayton (1993), JASA 88:9-25 (Laplace); Chung et al. (2013), Psychometrika 78:685-709
    (`off_zero`); McCullagh and Nelder (1989), Generalized Linear Models, chapter 6 (the regression).
    """
    given = dict(variances or {})
    names, design, levels = _read(counts, exposures, factors, given)
    fixed = np.array([_precision(name, given) for name in names])
    precisions, solved, marginal = _estimate(design, fixed, off_zero=off_zero)
    effects = [_effects(design, solved, number, arguments.tail(confidence)) for number in range(len(names))]
    found = {
        name: FactorEffects(levels[name], _variance(precision), *arrays)
        for name, precision, (_, *arrays) in zip(names, precisions, effects, strict=True)
    }
    rate = math.exp(solved.narrow[0] + sum(effect[0] for effect in effects))
    return CrossedFit(rate, _deviance(design, solved), marginal, {name: found[name] for name in factors})


def _read(
    counts: ArrayLike, exposures: ArrayLike, factors: Mapping[str, Sequence[str]], given: Mapping[str, float]
) -> tuple[list[str], Design, dict[str, tuple[str, ...]]]:
    """Factor names in the order of the design, the design, and the levels of each factor."""
    events, exposure = arguments.counts_and_exposures(counts, exposures)
    if not factors or not events.sum():
        raise arguments.refuse("factors" if events.sum() else "counts", "empty", "a factor, and an event, at least")
    for name, value in given.items():
        if name not in factors or not value > 0.0:
            raise arguments.refuse("variances", f"{name}: {value}", "a number above 0, or infinity, for a factor")
    kept = exposure > 0.0
    codes: dict[str, IntArray] = {}
    levels: dict[str, tuple[str, ...]] = {}
    for name, labels in factors.items():
        if len(labels) != events.size:
            raise ValueError(f"counts has {events.size} values and {name} has {len(labels)}; they must pair up.")
        seen = dict.fromkeys(label for label, is_kept in zip(labels, kept, strict=True) if is_kept)
        levels[name], place = tuple(seen), {label: number for number, label in enumerate(seen)}
        codes[name] = np.array([place[labels[row]] for row in np.flatnonzero(kept).tolist()], dtype=np.int64)
        if math.isinf(given.get(name, 0.0)) and not np.bincount(codes[name], events[kept]).all():
            raise ValueError(f"{name} has a level without an event, so no finite estimate; allowed is a penalty.")
    # Last is a factor with a penalty, of these the one with most levels: its block must be one that can be inverted.
    order = sorted(factors, key=lambda name: (not math.isinf(given.get(name, 0.0)), len(levels[name])))
    sizes = tuple(len(levels[name]) for name in order)
    return order, Design(events[kept], exposure[kept], tuple(codes[n] for n in order), sizes), levels


def _precision(name: str, given: Mapping[str, float]) -> float:
    """One over the variance; NaN where it is to be estimated."""
    return 1.0 / given[name] if name in given else math.nan


def _variance(precision: float) -> float:
    if precision == 0.0:
        return math.inf
    return 0.0 if precision >= math.exp(-2.0 * _LEAST) * 0.99 else 1.0 / float(precision)


def _estimate(design: Design, fixed: FloatArray, *, off_zero: bool) -> tuple[FloatArray, Solved, float]:
    """All precisions, the mode there, and the log marginal likelihood."""
    open_ones = np.isnan(fixed)
    warm = [_start(design)]

    def at(logs: FloatArray) -> tuple[Solved, float, FloatArray]:
        precisions = fixed.copy()
        precisions[open_ones] = np.exp(-2.0 * logs)
        solved = solve(design, precisions, warm[0])
        warm[0] = (solved.narrow, solved.wide)
        return solved, _marginal(design, solved, precisions), precisions

    def against(logs: FloatArray) -> tuple[float, FloatArray]:
        solved, marginal, precisions = at(logs)
        slope = 2.0 * (precisions * slopes(design, solved, precisions))[open_ones]
        return -marginal - (float(logs.sum()) if off_zero else 0.0), slope - (1.0 if off_zero else 0.0)

    logs = np.full(int(open_ones.sum()), math.log(0.3))
    if logs.size:
        within: list[tuple[float, float]] = [(_LEAST, _MOST)] * logs.size
        fine = {"ftol": 1e-12, "gtol": 1e-5}
        logs = optimize.minimize(against, logs, jac=True, method="L-BFGS-B", bounds=within, options=fine).x  # type: ignore[call-overload]
        logs = _to_nothing(lambda there: against(there)[0], logs)
    solved, marginal, precisions = at(logs)
    return precisions, solved, marginal


def _to_nothing(against: Callable[[FloatArray], float], logs: FloatArray) -> FloatArray:
    """The same, with every standard deviation at the least that is no better than that: the slope there is nearly 0."""
    best = against(logs)
    for place in range(logs.size):
        least = logs.copy()
        least[place] = _LEAST
        if (value := against(least)) <= best + _ALIKE:
            logs, best = least, min(best, value)
    return logs


def _start(design: Design) -> tuple[FloatArray, FloatArray]:
    narrow, wide = np.zeros(1 + sum(design.sizes[:-1])), np.zeros(design.sizes[-1])
    narrow[0] = math.log(design.counts.sum() / design.exposures.sum())
    return narrow, wide


def _marginal(design: Design, solved: Solved, precisions: FloatArray) -> float:
    if not precisions.any():
        return math.nan
    scale = sum(size * math.log(p) for size, p in zip(design.sizes, precisions, strict=True) if p)
    return solved.penalised + scale / 2.0 - solved.log_determinant / 2.0 + math.log(2.0 * math.pi) / 2.0


def _effects(design: Design, solved: Solved, number: int, tail: float) -> tuple[float, *tuple[FloatArray, ...]]:
    """The mean of one factor's effects; then these less it, and their ratios to the other levels with limits."""
    size, code = design.sizes[number], design.codes[number]
    weights = np.bincount(code, design.exposures, size) / design.exposures.sum()
    is_wide = number == len(design.sizes) - 1
    start, stop = (0, 0) if is_wide else design.edges[number]
    narrow, wide = np.zeros_like(solved.narrow), np.zeros_like(solved.wide)
    if is_wide:
        wide[:] = weights
        effects, own = solved.wide, solved.wide_variances()
    else:
        narrow[start:stop] = weights
        effects, own = solved.narrow[start:stop], np.diag(solved.inverse)[start:stop]
    parts = solved.times_inverse(narrow, wide)
    shared = parts[1] if is_wide else parts[0][start:stop]
    variance = np.maximum(own - 2.0 * shared + float(weights @ shared), 0.0)
    mean = float(weights @ effects)
    rest = np.where(weights < 1.0, 1.0 - weights, math.nan)
    log_ratio, half = (effects - mean) / rest, -special.ndtri(tail) * np.sqrt(variance) / rest
    with np.errstate(over="ignore"):
        return mean, effects - mean, np.exp(log_ratio), np.exp(log_ratio - half), np.exp(log_ratio + half)


def _deviance(design: Design, solved: Solved) -> float:
    means = design.exposures * np.exp(design.spread(solved.narrow, solved.wide))
    return float(2.0 * (special.xlogy(design.counts, design.counts / means) - design.counts + means).sum())
