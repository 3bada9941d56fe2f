"""The clock fit against Sen's example, a derived series, hand-worked cases and simulated pairs with a known offset."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.statistics import theil_sen_clock

Agrees = Callable[..., None]
Array = NDArray[np.float64]


def test_sens_example(agrees: Agrees) -> None:
    # Sen (1968), JASA 63:1379-1389, also in scipy's tests: slope 4, median of y - 4 x is 6 ("joint" rule), last x is
    # 18.
    x = np.array([1.0, 2, 3, 4, 10, 12, 18])
    y = np.array([9.0, 15, 19, 20, 45, 55, 78])
    fit = theil_sen_clock(x, x + y)
    agrees(fit.drift_ppm / 1e6, "4", 4.0)
    agrees(fit.offset_s, precise=6.0 + 4.0 * 18.0)


def test_offset_and_drift_with_two_gross_outliers(agrees: Agrees) -> None:
    # Derived series: offset 1.5 s, drift 0.036 s/h; pairwise medians recomputed in R give slope 0.03594259441 s/h
    # (least squares gives -0.113). The reference intercept, median y - slope median x, is 1.490729829; ours is the
    # median of y - slope x, so the two agree within the 0.02 s ripple of the series.
    hours = np.arange(0.0, 48.0, 2.0)
    ahead = np.round(1.5 + 0.036 * hours + 0.02 * np.sin(7 * hours), 6)
    ahead[hours == 10], ahead[hours == 26] = ahead[hours == 10] + 40, ahead[hours == 26] - 55
    fit = theil_sen_clock(hours * 3600, hours * 3600 + ahead)
    agrees(fit.drift_ppm, precise=9.984054002)
    assert fit.offset_s == pytest.approx(1.490729829 + 0.03594259441 * 46, abs=0.02)
    assert abs(fit.offset_s - (1.5 + 0.036 * 46)) < fit.within_s < 0.1


def test_exact_line_by_hand() -> None:
    # Ahead by 5 s at 0 and gaining 1 ms each 10 s (100 ppm): 5 + 0.01 at 100 s. Both are stamped to the millisecond,
    # half of which each adds; the round house times are not taken for whole seconds, as nothing scatters.
    house = np.arange(0.0, 101.0, 10.0)
    fit = theil_sen_clock(house, house + 5 + house * 1e-4)
    assert fit.offset_s == pytest.approx(5.01, abs=1e-9)
    assert fit.drift_ppm == pytest.approx(100.0, abs=1e-3)
    assert fit.step_s == pytest.approx(0.001)
    assert fit.within_s == pytest.approx(0.001, abs=1e-6)
    assert fit.pairs == 11


def test_order_of_pairs_and_origin_of_time_do_not_matter() -> None:
    draw = np.random.default_rng(3)
    house = np.sort(draw.uniform(0, 1e6, 40)).round(3)
    machine = (house * (1 + 5e-5) - 12 + draw.uniform(0, 0.25, 40)).round(3)
    fit, shuffled = theil_sen_clock(house, machine), draw.permutation(40)
    again = theil_sen_clock(house[shuffled] + 1.9e9, machine[shuffled] + 1.9e9)  # seconds since 1970, in the year 2030
    assert again.offset_s == pytest.approx(fit.offset_s, abs=1e-5)
    assert again.drift_ppm == pytest.approx(fit.drift_ppm, abs=1e-3)
    assert again.within_s == pytest.approx(fit.within_s, abs=1e-4)


def test_a_constant_delay_looks_like_an_offset() -> None:
    # Nothing in the pairs can tell the two apart; the caller must subtract a known delay.
    house = np.linspace(0, 7200, 12)
    assert theil_sen_clock(house, house + 0.3).offset_s == pytest.approx(0.3, abs=1e-6)


def test_a_good_clock_is_not_called_wrong_for_its_roll_jitter() -> None:
    # The clock is right and the machine takes 0 to 0.25 s to roll: the offset must not come out beyond its half-width.
    draw = np.random.default_rng(8)
    house = np.sort(draw.uniform(0, 2e6, 300)).round(3)
    fit = theil_sen_clock(house, (house + draw.uniform(0, 0.25, 300)).round(3))
    assert abs(fit.offset_s) < fit.within_s < 0.25


def test_two_pairs_tell_nothing_of_their_error() -> None:
    fit = theil_sen_clock([0.0, 1000.0], [1.0, 1001.2])
    assert fit.offset_s == pytest.approx(1.2)
    assert fit.within_s == np.inf


def test_stamps_of_the_same_minute_allow_for_half_a_minute() -> None:
    # Both clocks log minutes: half a minute each.
    house = 60.0 * np.arange(10) ** 2
    assert theil_sen_clock(house, house + 120).step_s == 60.0


def test_house_times_on_the_minute_are_not_taken_for_coarse_stamps() -> None:
    # Programmes start on the minute; the machine logs milliseconds and jitters by 0.25 s, which no stamp cut to seconds
    # would.
    draw = np.random.default_rng(5)
    house = 600.0 * np.arange(60)
    assert theil_sen_clock(house, (house + 7 + draw.uniform(0, 0.25, 60)).round(3)).within_s < 0.3


def test_whole_seconds_on_both_sides_allow_for_a_second() -> None:
    # 0.45 s ahead and both clocks cut to whole seconds: most pairs show 0, some 1, and nothing scatters about 0.
    draw = np.random.default_rng(6)
    house = np.sort(draw.uniform(0, 1e6, 40))
    fit = theil_sen_clock(np.floor(house), np.floor(house + 0.45))
    assert fit.step_s == 1.0
    assert abs(fit.offset_s - 0.45) < fit.within_s


def test_many_pairs_are_thinned_for_the_slope() -> None:
    # 5,000 exact pairs: the thinned slope is the slope.
    house = np.arange(5000.0) * 60 + 0.0127
    assert theil_sen_clock(house, house * (1 + 2e-5)).drift_ppm == pytest.approx(20.0, abs=1e-3)


STAMPS: dict[str, tuple[Callable[[Array], Array], Callable[[Array], Array]]] = {
    "milliseconds": (lambda s: np.round(s, 3), lambda s: np.round(s, 3)),
    "seconds cut off": (np.floor, np.floor),
    "seconds rounded": (np.round, np.round),
    "machine cuts off": (lambda s: np.round(s, 3), np.floor),
    "house cuts off": (np.floor, lambda s: np.round(s, 3)),
}


def covered(draw: np.random.Generator, pairs: int, stamp: str, jitter: str) -> tuple[bool, bool]:
    """One simulated machine: is the true offset within within_s, and offset plus mean delay within fit_within_s?"""
    house = np.sort(draw.uniform(0, draw.uniform(1, 30) * 86_400, pairs))
    offset, drift = draw.uniform(-90, 90), draw.uniform(-200e-6, 200e-6)
    delay = draw.uniform(0, 0.25, pairs) if jitter == "uniform" else draw.normal(0, 0.05, pairs)
    gross = (draw.random(pairs) < 0.1) * draw.uniform(2, 60, pairs) * draw.choice([-1, 1], pairs)
    of_house, of_machine = STAMPS[stamp]
    fit = theil_sen_clock(of_house(house), of_machine(house + offset + drift * house + delay + gross))
    true, typical = offset + drift * house[-1], 0.125 if jitter == "uniform" else 0.0
    return abs(fit.offset_s - true) <= fit.within_s, abs(fit.offset_s - true - typical) <= fit.fit_within_s


@pytest.mark.parametrize("jitter", ["uniform", "normal"])
@pytest.mark.parametrize("stamp", STAMPS)
def test_the_half_width_covers(stamp: str, jitter: str) -> None:
    # The simulation knows the truth: offset within 90 s, drift within 200 ppm, a tenth of gross outliers. With 200
    # machines in each cell a coverage of 95 % gives 181 or more with probability 0.998.
    draw = np.random.default_rng([17, list(STAMPS).index(stamp), len(jitter)])
    hits = [covered(draw, pairs, stamp, jitter) for pairs in (8, 12, 20, 60) for _ in range(50)]
    assert sum(hit for hit, _ in hits) >= 181
    if stamp == "milliseconds":  # with whole seconds the mean of the stamping error is part of the question
        assert sum(hit for _, hit in hits) >= 181


def test_the_scatter_of_a_handful_of_pairs_is_not_taken_for_small() -> None:
    # The line passes through two of three to six pairs, so the raw median residual is nearly nothing. 200 machines, as
    # above.
    draw = np.random.default_rng(31)
    hits = [covered(draw, pairs, "milliseconds", "normal") for pairs in (3, 4, 5, 6) for _ in range(50)]
    assert sum(hit for _, hit in hits) >= 181


def test_one_coarse_clock_allows_for_half_its_second() -> None:
    # The machine cuts to whole seconds, the house logs milliseconds: 0.5 s and 0.0005 s; the mean error of cutting is
    # 0.5 s.
    draw = np.random.default_rng(7)
    house = np.sort(draw.uniform(0, 1e6, 40)).round(3)
    fit = theil_sen_clock(house, np.floor(house + 3))
    assert fit.step_s == pytest.approx(0.5005)
    assert 0.3 < 3 - fit.offset_s < fit.within_s


@pytest.mark.parametrize("stamp", ["milliseconds", "seconds cut off"])
def test_the_half_width_covers_with_many_pairs_and_stays_useful(stamp: str) -> None:
    draw = np.random.default_rng(23)
    hits = [covered(draw, 300, stamp, "uniform")[0] for _ in range(25)]
    assert sum(hits) >= 22  # 95 % coverage gives 22 or more of 25 with probability 0.966, and this draw is fixed
    house = np.sort(draw.uniform(0, 1e6, 300))
    machine = STAMPS[stamp][1](house + 40 + draw.uniform(0, 0.25, 300))
    assert theil_sen_clock(STAMPS[stamp][0](house), machine).within_s < (0.25 if stamp == "milliseconds" else 1.5)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: theil_sen_clock([1.0], [1.0]), 'the number of pairs is "1"; allowed is 2 or more'),
        (lambda: theil_sen_clock([1.0, 2.0], [1.0]), "house_s has 2 values and machine_s has 1"),
        (lambda: theil_sen_clock([1.0, 1.0], [1.0, 2.0]), "two different times"),
        (lambda: theil_sen_clock([1.0, np.nan], [1.0, 2.0]), "house_s"),
    ],
)
def test_wrong_input_is_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
