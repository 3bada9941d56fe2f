"""Rates evened out over every spread between units: against full Bayes by others, and what symmetry demands."""

import math

import numpy as np
import pytest
from scipy import integrate, special, stats

from pipeline.statistics import gamma_poisson_shrinkage, hierarchical_rates, hierarchical_worst, poisson_limits
from pipeline.statistics.arguments import FloatArray
from pipeline.statistics.hierarchical import weigh_laws

# Gaver and O'Muircheartaigh (1987), Technometrics 29:1-15: failures and 1,000 h of ten pump systems.
PUMP_COUNTS = np.array([5, 1, 5, 14, 3, 19, 1, 1, 4, 22], dtype=float)
PUMP_HOURS = np.array([94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])


def test_pumps_under_the_prior_of_bugs() -> None:
    # BUGS Examples Vol. I, "Pumps": shape ~ Exp(1), rate ~ Gamma(0.1, 1). The examples print 0.70 and 0.93 (MCMC, two
    # digits); ten digits by two-dimensional quadrature. The density is asked for in (ln shape, ln common rate), so both
    # parameters multiply it once.
    def log_prior(shape: FloatArray, common: FloatArray) -> FloatArray:
        rate = shape / common
        return np.asarray(-shape + np.log(shape) + 0.1 * np.log(rate) - rate)

    laws = weigh_laws(PUMP_COUNTS, PUMP_HOURS, log_prior, 24)
    assert laws.weight.sum() == pytest.approx(1.0, rel=1e-12)
    assert laws.weight @ laws.shape == pytest.approx(0.6971696029, rel=1e-5)
    assert laws.weight @ laws.rate == pytest.approx(0.9268087399, rel=1e-5)
    means = laws.weight @ ((laws.shape[:, None] + PUMP_COUNTS) / (laws.rate[:, None] + PUMP_HOURS))
    expected = [0.05981828194, 0.1018264006, 0.08924175189, 0.1157883724, 0.6013383819]
    expected += [0.6093876106, 0.8925354673, 0.8925354673, 1.586310966, 1.989834693]
    assert means == pytest.approx(expected, rel=1e-5)


def test_one_unit_alone_follows_from_the_scale() -> None:
    # With one unit, a flat prior on the log of the common rate makes the rate's own prior 1 / rate whatever the shape,
    # so the posterior is Gamma(count, exposure): mean 7 / 2, limits its quantiles. Nothing bounds the spread,
    # the hardest case for the quadrature.
    fit = hierarchical_rates([7], [2.0], confidence=0.9)
    law = stats.gamma(7, scale=0.5)
    assert fit.mean == pytest.approx([3.5], rel=1e-4)
    assert (fit.low[0], fit.high[0]) == pytest.approx((law.ppf(0.05), law.ppf(0.95)), rel=2e-3)
    assert hierarchical_worst([7], [2.0]) == pytest.approx([1.0])


@pytest.mark.slow
def test_two_units_by_direct_integration() -> None:
    # scipy's adaptive quadrature over the share of the shape and the log of the common rate, written from the model:
    # B uniform on (0, 1), shape = m B / (1 - B) with m the mean count 5, log rate uniform, counts negative binomial.
    counts, hours = np.array([2.0, 8.0]), np.array([1.0, 2.0])

    def weight(log_rate: float, share: float, unit: int | None) -> float:
        shape, mean = 5.0 * share / (1.0 - share), math.exp(log_rate) * hours
        fit = stats.nbinom.pmf(counts, shape, shape / (shape + mean)).prod()
        if unit is None:
            return float(fit)
        return float(fit * (shape + counts[unit]) / (shape / math.exp(log_rate) + hours[unit]))

    total, first, second = (
        integrate.dblquad(weight, 1e-6, 1 - 1e-6, -6.0, 9.0, args=(unit,), epsabs=1e-10, epsrel=1e-5)[0]
        for unit in (None, 0, 1)
    )
    assert hierarchical_rates(counts, hours).mean == pytest.approx([first / total, second / total], rel=2e-3)


def test_limits_are_quantiles_of_the_mixture() -> None:
    fit = hierarchical_rates(PUMP_COUNTS, PUMP_HOURS, confidence=0.8)
    wider = hierarchical_rates(PUMP_COUNTS, PUMP_HOURS, confidence=0.95)
    assert (wider.low < fit.low).all()
    assert (fit.low < fit.mean).all()
    assert (fit.mean < fit.high).all()
    assert (fit.high < wider.high).all()
    # Ten pumps that plainly differ: the spread is known well, so the two ways of evening out are close.
    fitted = gamma_poisson_shrinkage(PUMP_COUNTS, PUMP_HOURS, confidence=0.95)
    assert wider.mean == pytest.approx(fitted.mean, rel=0.05)
    assert wider.high == pytest.approx(fitted.high, rel=0.08)


def test_units_alike_keep_wider_limits_than_a_spread_taken_as_none() -> None:
    # Four units with the pooled rate each: the likeliest spread is none, whose limits are those of all 24 events. That
    # no spread is there is not known, so a unit's limits must lie outside of those, and inside those of its own 6.
    fit = hierarchical_rates([6, 6, 6, 6], [2.0] * 4)
    pooled, own = poisson_limits(24, 8.0), poisson_limits(6, 2.0)
    assert own[0] < fit.low[0] < pooled[0] < pooled[1] < fit.high[0] < own[1]
    # By symmetry: each is the worst with 1/4, and all limits are the same.
    assert hierarchical_worst([6, 6, 6, 6], [2.0] * 4) == pytest.approx([0.25] * 4, abs=1e-9)
    assert np.ptp(fit.low) == pytest.approx(0.0, abs=1e-9)


def test_unit_of_measure_changes_nothing() -> None:
    in_h, in_1000_h = hierarchical_rates([1, 9, 3], [100, 900, 800]), hierarchical_rates([1, 9, 3], [0.1, 0.9, 0.8])
    for name, values in in_h.columns().items():
        assert 1000.0 * values == pytest.approx(in_1000_h.columns()[name], rel=1e-6)


def test_worst_of_two_by_the_incomplete_beta_function() -> None:
    # Given shape and rate, P(X < Y) of two gamma variables is I_{b1 / (b1 + b2)}(a1, a2); averaged over the same laws.
    counts, hours = np.array([2.0, 8.0]), np.array([1.0, 2.0])
    middle = 5.0
    laws = weigh_laws(counts, hours, lambda s, _: np.asarray(np.log(s) - 2.0 * np.log(s + middle)), 24)
    a, b = laws.shape[:, None] + counts, laws.rate[:, None] + hours
    second = laws.weight @ special.betainc(a[:, 0], a[:, 1], b[:, 0] / b.sum(axis=1))
    assert hierarchical_worst(counts, hours) == pytest.approx([1.0 - second, second], abs=2e-3)


def test_no_event_and_no_exposure() -> None:
    quiet = hierarchical_rates([0, 0], [10, 20])
    assert quiet.mean.tolist() == [0.0, 0.0]
    assert quiet.high == pytest.approx([-math.log(0.025) / 30] * 2)  # closed form: P(no event) = 0.025
    assert hierarchical_worst([0, 0], [10, 20]).tolist() == [0.5, 0.5]
    idle = hierarchical_rates([*PUMP_COUNTS, 0], [*PUMP_HOURS, 0])
    assert idle.low[-1] < idle.low.min() + idle.low[:-1].max()
    assert idle.high[-1] > idle.mean[-1] > idle.low[-1] > 0.0


@pytest.mark.parametrize(
    ("counts", "exposures", "confidence", "words"),
    [
        ([1.5], [1], 0.95, "whole numbers"),
        ([1], [0], 0.95, "wherever the count is above 0"),
        ([1, 2], [1], 0.95, "pair up"),
        ([1], [1], 1.0, "confidence"),
    ],
)
def test_wrong_input_is_refused(counts: list[float], exposures: list[float], confidence: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        hierarchical_rates(counts, exposures, confidence)
