"""Shared cause against the handbooks' formulas, the trade's round numbers, another library and counting by hand."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import linalg, stats

from pipeline.statistics import both_lost, common_cause_share, least_share_found, pair_availability

Agrees = Callable[..., None]


def test_a_group_of_two(agrees: Agrees) -> None:
    # NUREG/CR-4780 vol. 2 and NUREG/CR-5485, group of two (formula from memory, numbers worked out with R binom.test):
    # 45 single failures and 5 doubles, 90 % limits of 5 of 50 turned into beta. Not to be taken for alpha2 = 0.1.
    share = common_cause_share(45, 5, 0.9)
    agrees(share.value, precise=0.1818181818)
    agrees(share.low, precise=0.07736045967)
    agrees(share.high, precise=0.3317109257)


def test_beta_by_way_of_the_alpha_factors() -> None:
    # NUREG/CR-5485, non-staggered tests: beta = 2 alpha2 / (alpha1 + 2 alpha2) with alpha2 = n2 / (n1 + n2) = 0.1.
    assert common_cause_share(45, 5).value == pytest.approx(2 * 0.1 / (0.9 + 2 * 0.1), rel=1e-12)


def test_doubles_that_luck_brings_are_taken_off_value_and_low() -> None:
    # 3 singles and 2 doubles, half a double by luck: 2 (2 - 0.5) / 7 = 3/7. Low: the limit of 2 of 5 by scipy, less 0.5
    # of 5 events. High keeps the luck.
    share = common_cause_share(3, 2, chance_doubles=0.5)
    assert share.value == pytest.approx(3 / 7, rel=1e-12)
    limits = stats.binomtest(2, 5).proportion_ci(0.95, method="exact")
    assert share.low == pytest.approx(2 * max(0.0, limits.low - 0.1) / (1 + limits.low), rel=1e-9)
    assert share.high == pytest.approx(2 * limits.high / (1 + limits.high), rel=1e-9)
    assert common_cause_share(3, 2, chance_doubles=7.0).value == 0.0


@given(st.integers(0, 200), st.floats(0.01, 0.99))
def test_no_double_leaves_nothing_below_and_doubles_alone_nothing_above(count: int, confidence: float) -> None:
    none, alone = common_cause_share(count, 0, confidence), common_cause_share(0, count, confidence)
    assert none.low == 0.0
    assert alone.high == 1.0
    if count:
        assert (none.value, alone.value) == (0.0, 1.0)
    else:
        assert math.isnan(none.value)


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.0, 5.0))
def test_value_lies_within_its_limits_and_luck_only_lowers_it(singles: int, doubles: int, luck: float) -> None:
    seen, plain = common_cause_share(singles, doubles, chance_doubles=luck), common_cause_share(singles, doubles)
    assert 0.0 <= seen.low <= seen.high <= 1.0
    if singles + doubles:
        assert seen.low <= seen.value <= seen.high
        assert seen.value <= plain.value
    assert seen.high == plain.high


def test_the_trades_round_numbers(agrees: Agrees) -> None:
    # IEC 61508-6's beta model with the trade's round numbers: 0.01 failures/h over 30 min, independent double 2.5e-5;
    # with 5 % shared 2.5e-4.
    apart, together = both_lost(0.01, 0.5), both_lost(0.01, 0.5, 0.05)
    agrees(apart.chance, "2.5e-5")
    agrees(together.shared, "2.5e-4")
    assert apart.chance == apart.independent == together.independent
    # Exactly: 1 - exp(-0.00025) (1 - (1 - exp(-0.00475))^2).
    by_hand = 1 - math.exp(-0.00025) * (1 - (1 - math.exp(-0.00475)) ** 2)
    assert together.chance == pytest.approx(by_hand, rel=1e-10)


@given(
    st.floats(1e-5, 10.0),
    st.floats(0.01, 100.0),
    st.one_of(st.sampled_from([0.0, 1.0]), st.floats(0.0, 1.0)),
    st.one_of(st.just(math.inf), st.floats(1e-3, 1e3)),
)
def test_both_lost_is_the_matrix_exponential(rate: float, hours: float, share: float, cover: float) -> None:
    alone, back = 2 * (1 - share) * rate, 0.0 if math.isinf(cover) else 1 / cover
    flows = np.array([[-alone - share * rate, alone, share * rate], [back, -back - rate, rate], [0, 0, 0]])
    theirs = linalg.expm(flows * hours)[0, 2]
    assert both_lost(rate, hours, share, cover_hours=cover).chance == pytest.approx(theirs, rel=1e-7, abs=1e-11)


def test_a_return_helps_and_a_long_programme_tends_to_the_mean_time_to_the_first_loss() -> None:
    # For long programmes 1 - exp(-t / MTTFF), where returns are quick: MTTFF of the pair from the balance of flows.
    slow, quick = both_lost(0.001, 10.0, 0.1), both_lost(0.001, 10.0, 0.1, cover_hours=10.0)
    assert quick.chance < slow.chance
    first = pair_availability(0.001, 0.1, 0.1).time_to_first_loss
    assert both_lost(0.001, 5000.0, 0.1, cover_hours=10.0).chance == pytest.approx(
        1 - math.exp(-5000 / first), rel=1e-2
    )


def test_edges_of_both_lost() -> None:
    assert both_lost(0.0, 5.0, 0.3).chance == 0.0
    assert both_lost(0.3, 0.0, 0.3).chance == 0.0
    # All shared: the pair is one machine, 1 - exp(-lambda t).
    assert both_lost(0.3, 2.0, 1.0).chance == pytest.approx(1 - math.exp(-0.6), rel=1e-12)


def test_what_would_have_been_found() -> None:
    # One double is enough: 1 - (1 - a)^n = 0.8, so a = 1 - 0.2^(1/n); n = 10 gives 0.148660, beta 2 a / (1 + a).
    part = 1 - 0.2**0.1
    assert least_share_found(10, 1) == pytest.approx(2 * part / (1 + part), rel=1e-12)
    # All must be double: a^n = 0.5.
    part = 0.5 ** (1 / 3)
    assert least_share_found(3, 3, 0.5) == pytest.approx(2 * part / (1 + part), rel=1e-12)
    assert math.isinf(least_share_found(1, 2))


@given(st.integers(1, 80), st.integers(1, 20), st.floats(0.05, 0.95))
def test_the_share_found_has_the_power_it_says(events: int, doubles: int, power: float) -> None:
    found = least_share_found(events, doubles, power)
    if events >= doubles:
        double_share = found / (2 - found)  # beta = 2 a / (1 + a) turned round
        assert stats.binom.sf(doubles - 1, events, double_share) == pytest.approx(power, rel=1e-6)


@pytest.mark.parametrize(
    "call",
    [
        lambda: common_cause_share(-1, 2),
        lambda: common_cause_share(1, 0.5),  # type: ignore[arg-type]
        lambda: common_cause_share(1, 2, 1.0),
        lambda: common_cause_share(1, 2, chance_doubles=-0.1),
        lambda: both_lost(-0.1, 1.0),
        lambda: both_lost(0.1, math.inf),
        lambda: both_lost(0.1, 1.0, 1.1),
        lambda: both_lost(0.1, 1.0, cover_hours=0.0),
        lambda: both_lost(0.1, 1.0, cover_hours=-math.inf),
        lambda: least_share_found(3, 0),
        lambda: least_share_found(3, 1, 1.0),
    ],
)
def test_what_no_formula_can_use_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        call()
