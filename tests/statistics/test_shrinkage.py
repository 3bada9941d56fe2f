"""Shrunken rates against the pump and ship data of the literature, R's fits, full Bayes and closed forms."""

import math
import time
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from pipeline.statistics import gamma_poisson_shrinkage, poisson_limits

Agrees = Callable[..., None]

# Gaver and O'Muircheartaigh (1987), Technometrics 29:1-15: failures and 1,000 h of ten pump systems.
PUMP_COUNTS = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
PUMP_HOURS = [94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]
# Means recomputed in R (optim on dnbinom).
PUMP_MEANS = [
    0.06093411832,
    0.1074756721,
    0.09075459857,
    0.1164762888,
    0.5879989143,
    0.6069186057,
    0.7885979608,
    0.7885979608,
    1.434700321,
    1.940455519,
]
# Full-Bayes posterior means of the same pumps (BUGS Examples Vol. I), by quadrature.
PUMP_FULL_BAYES = [
    0.05981828194,
    0.1018264006,
    0.08924175189,
    0.1157883724,
    0.6013383819,
    0.6093876106,
    0.8925354673,
    0.8925354673,
    1.586310966,
    1.989834693,
]


def test_pumps(agrees: Agrees) -> None:
    # George, Makov and Smith (1993), Scand. J. Statist. 20:147-156, as quoted in the NIMBLE examples: 0.823 and 1.262.
    fit = gamma_poisson_shrinkage(PUMP_COUNTS, PUMP_HOURS)
    agrees(fit.shape, "0.823", 0.82296509, rel=1e-5)
    agrees(fit.rate, "1.262", 1.261653315, rel=1e-5)
    assert fit.mean == pytest.approx(PUMP_MEANS, rel=1e-5)


def test_pumps_shrink_as_under_full_bayes() -> None:
    # Full Bayes also averages over shape and rate, so only the direction and size of the shrinkage can agree.
    fit = gamma_poisson_shrinkage(PUMP_COUNTS, PUMP_HOURS)
    assert fit.mean == pytest.approx(PUMP_FULL_BAYES, rel=0.15)
    assert ((fit.low < PUMP_FULL_BAYES) & (fit.high > PUMP_FULL_BAYES)).all()


def test_pump_ranks(agrees: Agrees) -> None:
    # Derived from the posteriors above by an independent quadrature, and by 2,000,000 draws within 0.0015.
    fit = gamma_poisson_shrinkage(PUMP_COUNTS, PUMP_HOURS)
    worst = {
        10: 0.6829985491,
        9: 0.2151598367,
        8: 0.04958364087,
        7: 0.04958364087,
        6: 1.291652416e-05,
        5: 0.002661414736,
    }
    for pump, probability in worst.items():
        agrees(fit.rank_worst[pump - 1], precise=probability, rel=1e-5)
    assert fit.rank_worst.sum() == pytest.approx(1.0, abs=1e-9)
    ranks = {1: 1.686984543, 2: 2.693074442, 4: 3.370958277, 9: 8.64625889, 10: 9.632887402}
    for pump, rank in ranks.items():
        agrees(fit.expected_rank[pump - 1], precise=rank, rel=1e-5)


def test_two_units_by_the_incomplete_beta_function(agrees: Agrees) -> None:
    # For pumps 9 and 10 of the fit above P(rate9 < rate10) = 0.765566431; with two units alone rank_worst is such a
    # ratio of gammas: P(X < Y) = I_{b1 / (b1 + b2)}(a1, a2), here from scipy's beta law.
    fit = gamma_poisson_shrinkage([2, 90], [10, 10])
    a1, a2, b = fit.shape + 2, fit.shape + 90, fit.rate + 10
    agrees(fit.rank_worst[1], precise=stats.beta.cdf(b / (b + b), a1, a2), rel=1e-9)
    assert fit.expected_rank[1] == pytest.approx(1 + fit.rank_worst[1], rel=1e-9)


def test_ships_with_very_unequal_exposure(agrees: Agrees) -> None:
    # McCullagh and Nelder (1989), sec. 6.3.2 (R MASS::ships), incidents and 1,000 months by type; fit recomputed in R.
    fit = gamma_poisson_shrinkage([42, 253, 12, 17, 32], [9.489, 138.317, 6.193, 4.444, 5.131])
    agrees(fit.shape, precise=5.283061843, rel=1e-5)
    agrees(fit.rate, precise=1.483710877, rel=1e-5)
    expected = [4.309150435, 1.847508931, 2.251362871, 3.759134395, 5.636385707]
    assert fit.mean == pytest.approx(expected, rel=1e-5)


def test_horse_kicks_show_no_spread() -> None:
    # Bortkiewicz, 200 corps-years (Fisher 1925, Table 2): dispersion index 199.3 on 199 degrees of freedom, so no
    # spread between corps-years: all get the mean, 0.61.
    counts = np.repeat([0, 1, 2, 3, 4], [109, 65, 22, 3, 1])
    fit = gamma_poisson_shrinkage(counts, np.ones(200))
    assert (fit.shape, fit.rate) == (math.inf, math.inf)
    assert fit.mean == pytest.approx(np.full(200, 0.61))
    assert fit.rank_worst == pytest.approx(np.full(200, 1 / 200))
    assert fit.expected_rank == pytest.approx(np.full(200, 100.5))
    low, high = poisson_limits(122, 200)
    assert (fit.low[0], fit.high[-1]) == (low, high)


def test_a_thousand_units_are_ranked_soon() -> None:
    # By symmetry: units with the same count and exposure are as likely the worst, and those with no event less so. Of
    # every two units one has the lower rate, so the ranks sum to n (n + 1) / 2.
    counts = np.repeat([0, 9], [700, 300])
    began = time.process_time()
    fit = gamma_poisson_shrinkage(counts, np.full(1000, 3.0))
    assert time.process_time() - began < 20  # half a second on a machine that does nothing else
    assert fit.rank_worst.sum() == pytest.approx(1.0, rel=1e-9)
    assert fit.rank_worst[700:] == pytest.approx(np.full(300, fit.rank_worst[700:].mean()), rel=1e-9)
    assert fit.rank_worst[:700].max() < fit.rank_worst[700:].min()
    assert fit.expected_rank.sum() == pytest.approx(1000 * 1001 / 2, rel=1e-9)


def test_one_unit_and_no_events() -> None:
    single = gamma_poisson_shrinkage([3], [10])
    assert (single.shape, single.mean.tolist(), single.rank_worst.tolist()) == (math.inf, [0.3], [1.0])
    quiet = gamma_poisson_shrinkage([0, 0], [10, 20])
    assert quiet.mean.tolist() == [0.0, 0.0]
    assert quiet.high == pytest.approx([-math.log(0.025) / 30] * 2)


def test_unit_without_exposure_gets_the_common_law() -> None:
    # By the model: its posterior is Gamma(shape, rate), mean shape / rate, and it adds nothing to the fit.
    fit = gamma_poisson_shrinkage([*PUMP_COUNTS, 0], [*PUMP_HOURS, 0])
    assert fit.shape == pytest.approx(gamma_poisson_shrinkage(PUMP_COUNTS, PUMP_HOURS).shape, rel=1e-9)
    assert fit.mean[-1] == pytest.approx(fit.shape / fit.rate, rel=1e-12)


def test_limits_are_quantiles_of_the_posterior() -> None:
    fit = gamma_poisson_shrinkage(PUMP_COUNTS, PUMP_HOURS, confidence=0.9)
    law = stats.gamma(fit.shape + np.array(PUMP_COUNTS), scale=1 / (fit.rate + np.array(PUMP_HOURS)))
    assert fit.low == pytest.approx(law.ppf(0.05), rel=1e-9)
    assert fit.high == pytest.approx(law.ppf(0.95), rel=1e-9)
    assert list(fit.columns()) == ["mean", "low", "high", "rank_worst", "expected_rank"]


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 40), st.floats(0.5, 50)), min_size=2, max_size=12))
def test_no_other_shape_and_rate_are_likelier(units: list[tuple[int, float]]) -> None:
    counts, hours = np.array([u[0] for u in units]), np.array([u[1] for u in units])
    fit = gamma_poisson_shrinkage(counts, hours)
    means = fit.mean if math.isinf(fit.shape) else np.full(counts.size, fit.shape / fit.rate)

    def theirs(logs: np.ndarray) -> float:
        shape, rate = np.exp(logs)
        return -float(stats.nbinom.logpmf(counts, shape, rate / (rate + hours)).sum())

    if math.isinf(fit.shape):
        ours = -float(stats.poisson.logpmf(counts, means * hours).sum())
    else:
        ours = theirs(np.log([fit.shape, fit.rate]))
    if counts.sum():
        start = np.log([1.0, hours.sum() / counts.sum()])
        bounds = [(-8.0, 10.0), (-20.0, 20.0)]  # beyond shape e^10 scipy's negative binomial loses digits
        assert ours <= optimize.minimize(theirs, start, method="Nelder-Mead", bounds=bounds).fun + 1e-6
    assert fit.rank_worst.sum() == pytest.approx(1.0, abs=1e-8)
    assert fit.expected_rank.sum() == pytest.approx(counts.size * (counts.size + 1) / 2)


@pytest.mark.parametrize(
    ("counts", "exposures", "words"),
    [
        ([], [], "sum of exposures"),
        ([1, 2], [1], "counts has 2 values and exposures has 1"),
        ([-1], [1], "counts"),
        ([0.5], [1], "whole"),
        ([1], [0], "exposures"),
        ([1], [-1], "exposures"),
    ],
)
def test_wrong_input_is_refused(counts: list[float], exposures: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        gamma_poisson_shrinkage(counts, exposures)
