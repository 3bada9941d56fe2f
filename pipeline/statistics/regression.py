"""Rates that depend on several things at once: Poisson regression with exposure, told as rate ratios.

The fit itself is statsmodels'. What is added is what a playback room's few events need: groups without an event, and
columns whose ratio runs off to nothing or to infinity, are found before the fit and said, instead of a number with ten
digits and a standard error of a thousand.
"""

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize

from pipeline.statistics import arguments
from pipeline.statistics.arguments import BoolArray, FloatArray

_SMALL = 1e-7


@dataclass(frozen=True)
class PoissonRegression:
    """Rate ratios of a fit, in the order of `names`; NaN where the data do not fix a ratio (limits 0 and infinity).

    `not_fixed` names those columns. `silent` are the strata without an event, which say nothing about a ratio.
    `dispersion` is Pearson's chi-square over its degrees of freedom, near 1 where counts are Poisson; NaN without any.
    """

    names: tuple[str, ...]
    ratios: FloatArray
    low: FloatArray
    high: FloatArray
    p: FloatArray
    dispersion: float
    free_count: int
    not_fixed: tuple[str, ...]
    silent: tuple[str, ...]


def poisson_regression(
    counts: ArrayLike,
    exposures: ArrayLike,
    columns: Mapping[str, ArrayLike],
    *,
    strata: Sequence[str] | None = None,
    confidence: float = 0.95,
) -> PoissonRegression:
    """Rate ratios of several columns at once: log rate = stratum's intercept + sum of column times log ratio.

    Maximum likelihood by statsmodels (GLM, Poisson, log link, log exposure as offset). A ratio is exp(coefficient), for
    one unit more of its column; limits and p are Wald's, on the log scale, and are not widened by the dispersion.

    Before the fit: strata without an event are left out (their rate is 0 whatever the ratios). Rows without an event
    that some direction tells apart from all rows with one would drive a ratio to 0 or infinity; they are found by
    linear programming and left out, which is the limit that the fit runs to, and what is then not fixed is flagged.

    Assumes independent Poisson counts and ratios that multiply. With fewer than about five events expected on either
    side of a column the limits are rough; `stratified_rate_ratio` has exact ones for a single column.

    Args:
        counts: events of each row, whole numbers, shape (n,).
        exposures: exposure of each row, shape (n,), above 0.
        columns: numbers of each row by name, shape (n,) each; a level is coded 0 and 1.
        strata: label of each row; one intercept each. None: one intercept for all.
        confidence: two-sided level of the limits.

    Returns:
        A `PoissonRegression`. Without any event every column is flagged.

    Raises:
        ValueError: a count is negative, broken or not finite, an exposure is not above 0, something does not pair up,
            no column is given, confidence is outside (0, 1).

    Reference: McCullagh and Nelder (1989), Generalized Linear Models, 6.3.2; Correia, Guimarães and Zylkin (2019),
    arXiv:1903.01633, for estimates that do not exist.
    """
    events, time = arguments.counts_and_exposures(counts, exposures)
    if (time <= 0.0).any():
        raise arguments.refuse("exposures", time.min(), "numbers above 0")
    if not columns:
        raise arguments.refuse("columns", "none", "at least one column")
    level = 1.0 - 2.0 * arguments.tail(confidence)
    wanted = [arguments.vector(name, values) for name, values in columns.items()]
    for name, values in zip(columns, wanted, strict=True):
        arguments.same_length("counts", events, name, values)
    labels = np.asarray(["all"] * events.size if strata is None else list(strata), dtype=str)
    arguments.same_length("counts", events, "strata", np.zeros(labels.size))
    alive, silent = _telling_strata(labels, events)
    design = np.column_stack([labels == label for label in alive] + wanted).astype(np.float64)
    kept = _without_separated(design, events, np.isin(labels, alive))
    return _fit((design, events, time), kept, _Asked(tuple(columns), tuple(silent), level))


@dataclass(frozen=True)
class _Asked:
    names: tuple[str, ...]
    silent: tuple[str, ...]
    level: float


def _telling_strata(labels: NDArray[np.str_], events: FloatArray) -> tuple[list[str], list[str]]:
    seen = {str(label) for label in labels[events > 0.0]}
    every = list(dict.fromkeys(str(label) for label in labels))
    return [label for label in every if label in seen], [label for label in every if label not in seen]


def _without_separated(design: FloatArray, events: FloatArray, kept: BoolArray) -> BoolArray:
    """The rows that a finite fit can use: those are taken out that some direction parts from all rows with events.

    Such a direction d has x d = 0 in rows with an event, x d <= 0 in the others and x d < 0 in some. The likelihood
    rises along it for ever, while the mean of the latter rows goes to 0.
    """
    quiet = kept & (events == 0.0)
    while quiet.any():
        found = optimize.linprog(
            design[quiet].sum(axis=0), A_ub=design[quiet], b_ub=np.zeros(quiet.sum()), A_eq=design[events > 0.0],
            b_eq=np.zeros((events > 0.0).sum()), bounds=(-1.0, 1.0), method="highs",
        )  # fmt: skip
        parted = quiet & (design @ np.asarray(found.x) < -_SMALL)
        if not parted.any():
            break
        quiet, kept = quiet & ~parted, kept & ~parted
    return kept


def _fit(data: tuple[FloatArray, FloatArray, FloatArray], kept: BoolArray, asked: _Asked) -> PoissonRegression:
    design, events, time = (part[kept] for part in data)
    places = _independent(design)
    first = design.shape[1] - len(asked.names)
    fixed = {place - first: order for order, place in enumerate(places) if place >= first}
    result = {"ratios": np.nan, "low": 0.0, "high": np.inf, "p": np.nan}
    numbers = {name: np.full(len(asked.names), blank) for name, blank in result.items()}
    dispersion, free = np.nan, len(events) - len(places)
    if len(events) and places:
        from statsmodels.genmod.families import Poisson  # noqa: PLC0415 - a second of loading, for this alone
        from statsmodels.genmod.generalized_linear_model import GLM  # noqa: PLC0415

        with warnings.catch_warnings():  # a fit with as many coefficients as rows is exact, and is warned of
            warnings.simplefilter("ignore")
            found = GLM(events, design[:, places], family=Poisson(), exposure=time).fit(tol=1e-12, maxiter=200)
        limits = found.conf_int(1.0 - asked.level)
        for column, order in fixed.items():
            numbers["ratios"][column] = np.exp(found.params[order])
            numbers["low"][column], numbers["high"][column] = np.exp(limits[order])
            numbers["p"][column] = found.pvalues[order]
        dispersion = found.pearson_chi2 / free if free > 0 else np.nan
    loose = tuple(name for column, name in enumerate(asked.names) if column not in fixed)
    return PoissonRegression(
        asked.names, numbers["ratios"], numbers["low"], numbers["high"], numbers["p"], float(dispersion), max(0, free),
        loose, asked.silent,
    )  # fmt: skip


def _independent(design: FloatArray) -> list[int]:
    """Places of the columns of which none is a sum of those before it, and so has a ratio of its own."""
    places: list[int] = []
    for place in range(design.shape[1]):
        if np.linalg.matrix_rank(design[:, [*places, place]]) > len(places):
            places.append(place)
    return places
