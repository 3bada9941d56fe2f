"""The index of dispersion: Fisher's horse kicks, every way that few events can fall, and by hand."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from pipeline.statistics import dispersion_test


def test_horse_kicks_are_scattered_as_luck_scatters_them() -> None:
    # Bortkiewicz by way of Fisher (1925), table 2 (from memory): 109, 65, 22, 3 and 1 corps-years with 0 to 4 deaths.
    kicks = np.repeat([0, 1, 2, 3, 4], [109, 65, 22, 3, 1])
    index, p = dispersion_test([kicks], [np.ones(200)])
    assert index * 199 == pytest.approx(199.3114754, rel=1e-9)
    # The chi-square tail is 0.4804495; with so many periods the gamma law hardly differs.
    assert p == pytest.approx(0.4804495, abs=5e-4)


def test_three_events_in_two_like_months() -> None:
    # All in one (chance 1/4): D = 1.5^2/1.5 twice = 3. Two and one: 0.5^2/1.5 twice = 1/3.
    # Mean 3/4 + 1/4 = 1; variance 9/4 + 1/12 - 1 = 4/3: the formula 2 + (4 - 4 - 4 + 2) / 3.
    index, p = dispersion_test([[3, 0]], [[10.0, 10.0]])
    assert index == pytest.approx(3.0)
    assert p == pytest.approx(stats.gamma(0.75, scale=4 / 3).sf(3.0))


def test_mean_and_variance_are_exact_in_uneven_months() -> None:
    """Five events over hours of 10, 20 and 70: every way they can fall, with its multinomial probability."""
    shares = np.array([0.1, 0.2, 0.7])
    falls = [np.array(way) for way in itertools.product(range(6), repeat=3) if sum(way) == 5]
    chances = np.array([stats.multinomial(5, shares).pmf(way) for way in falls])
    found = np.array([dispersion_test([way], [100 * shares])[0] * 2 for way in falls])
    mean, variance = float((chances * found).sum()), float((chances * found**2).sum()) - 4.0
    assert mean == pytest.approx(2.0)
    assert variance == pytest.approx(4 + (10 + 5 + 1 / 0.7 - 9 - 6 + 2) / 5)
    # The p that is given for each way is the gamma tail with these two.
    p = dispersion_test([[3, 1, 1]], [100 * shares])[1]
    d = (3 - 0.5) ** 2 / 0.5 + 0 + (1 - 3.5) ** 2 / 3.5
    assert p == pytest.approx(stats.gamma(4 / variance, scale=variance / 2).sf(d))


def test_units_are_held_to_their_own_rates() -> None:
    """A busy and a quiet machine, each steady, are not scattered; months without hours are left out."""
    index, p = dispersion_test([[20, 20, 0], [2, 2, 2]], [[10.0, 10.0, 0.0], [10.0, 10.0, 10.0]])
    assert index == 0.0
    assert p == 1.0
    assert all(math.isnan(number) for number in dispersion_test([[0, 0]], [[1.0, 1.0]]))
    assert dispersion_test([[1, 0]], [[1.0, 1.0]])[1] == 1.0  # one event says nothing


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="alike"):
        dispersion_test([[1, 2]], [[1.0]])
    with pytest.raises(ValueError, match="exposures"):
        dispersion_test([[1, 2]], [[0.0, 0.0]])
