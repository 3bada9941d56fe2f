"""Power of the exact test of two rates: by hand, by adding up every pair of counts, and against statsmodels."""

import itertools
import math

import pytest
from scipy import stats
from statsmodels.stats.rates import power_poisson_ratio_2indep

from pipeline.statistics import detectable_ratio, exposure_factor, rate_ratio, rate_ratio_power


def test_by_hand() -> None:
    # Exposures of 1, level 0.6, so that a tail of 0.3 is enough; rates 0.15 and 0.05, so N is Poisson with mean 0.2.
    # Equal rates: n = 1 has tails of 1/2, n = 2 of 1/4, n = 3 of 1/8, n = 4 of 1/16 (and 5/16 with the next, too many):
    # all in a or all in b is called. Truly a has share 3/4: 9/16 + 1/16, 27/64 + 1/64, 81/256 + 1/256.
    called = {2: 10 / 16, 3: 28 / 64, 4: 82 / 256}
    power = sum(math.exp(-0.2) * 0.2**n / math.factorial(n) * share for n, share in called.items())
    # n = 5 and more: less than e^-0.2 0.2^5 / 120 (1 + 0.2 / 6 + ...) < 2.3e-6.
    assert rate_ratio_power(3.0, 1.0, 1.0, 0.05, level=0.6) == pytest.approx(power, abs=2.3e-6)
    assert power == pytest.approx(0.0107292, abs=1e-7)


@pytest.mark.parametrize(
    ("ratio", "a", "b", "rate"), [(3.0, 2.0, 5.0, 1.5), (1.0, 1.0, 1.0, 4.0), (0.3, 4.0, 2.0, 3.0)]
)
def test_every_pair_of_counts_added_up(ratio: float, a: float, b: float, rate: float) -> None:
    most = 60
    first, second = stats.poisson(ratio * rate * a), stats.poisson(rate * b)
    by_pairs = sum(
        first.pmf(x) * second.pmf(y)
        for x, y in itertools.product(range(most), repeat=2)
        if rate_ratio(x, a, y, b)[3] <= 0.05
    )
    assert rate_ratio_power(ratio, a, b, rate) == pytest.approx(by_pairs, abs=1e-9)


def test_the_size_is_below_the_level() -> None:
    assert rate_ratio_power(1.0, 300.0, 900.0, 0.04) < 0.05


def test_near_the_normal_approximation_where_counts_are_large() -> None:
    # 520 against 400 events a side: statsmodels' score power of the ratio is an approximation, near here.
    other = power_poisson_ratio_2indep(
        1.3, 1.0, nobs1=400, value=1, alpha=0.01, alternative="two-sided", return_results=False
    )
    assert rate_ratio_power(1.3, 400.0, 400.0, 1.0, level=0.01) == pytest.approx(other, abs=0.005)


def test_no_rate_no_power() -> None:
    assert rate_ratio_power(5.0, 10.0, 10.0, 0.0) == 0.0
    assert math.isinf(detectable_ratio(10.0, 10.0, 0.0))
    assert math.isinf(exposure_factor(2.0, 10.0, 10.0, 0.0))


def test_the_detectable_ratio_has_the_power_asked_for() -> None:
    ratio = detectable_ratio(100.0, 700.0, 0.04, level=0.05 / 16)
    assert rate_ratio_power(ratio, 100.0, 700.0, 0.04, level=0.05 / 16) == pytest.approx(0.8, abs=1e-6)
    assert rate_ratio_power(0.99 * ratio, 100.0, 700.0, 0.04, level=0.05 / 16) < 0.8
    # More hours show smaller differences, a stricter level larger ones only.
    assert detectable_ratio(200.0, 1400.0, 0.04, level=0.05 / 16) < ratio
    assert detectable_ratio(100.0, 700.0, 0.04, level=0.05) < ratio


def test_the_exposure_factor_is_enough_and_hardly_more() -> None:
    factor = exposure_factor(2.0, 100.0, 700.0, 0.04, level=0.05 / 16)
    assert rate_ratio_power(2.0, 100.0 * factor, 700.0 * factor, 0.04, level=0.05 / 16) >= 0.8
    less = 0.97 * factor
    assert rate_ratio_power(2.0, 100.0 * less, 700.0 * less, 0.04, level=0.05 / 16) < 0.8
    # What is there eightfold needs an eighth (to the thousandth it is found to, and a tooth).
    assert exposure_factor(2.0, 800.0, 5600.0, 0.04, level=0.05 / 16) == pytest.approx(factor / 8, rel=0.01)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="ratio"):
        rate_ratio_power(0.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="rate_b"):
        rate_ratio_power(1.0, 1.0, 1.0, -1.0)
    with pytest.raises(ValueError, match="power"):
        detectable_ratio(1.0, 1.0, 1.0, level=0.05, power=0.01)
