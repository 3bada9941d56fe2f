"""Availability against the standards' tables and formulas, and against chains of states solved by another library."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import linalg, stats

from pipeline.statistics import availability_limits, failure_on_demand, pair_availability, unit_availability

Agrees = Callable[..., None]


def test_one_unit(agrees: Agrees) -> None:
    # IEC 61703:2016, MIL-HDBK-338B sec. 10 (formulas from memory, numbers worked out): MTBF 1000 h, MTTR 10 h, 20 h.
    unit = unit_availability(0.001, 0.1, 20.0)
    agrees(unit.steady, precise=0.9900990099)
    agrees(unit.at_time, precise=0.9914124303)
    agrees(unit.mean, precise=0.994350282)
    assert unit_availability(0.001, 0.1).mean == unit.steady
    assert unit_availability(0.001, 0.1, 0.0).mean == unit_availability(0.001, 0.1, 0.0).at_time == 1.0


@given(st.floats(1e-4, 1.0), st.floats(1e-3, 10.0), st.floats(0.0, 100.0))
def test_one_unit_is_the_matrix_exponential(failure: float, repair: float, time: float) -> None:
    flows = np.array([[-failure, failure], [repair, -repair]])
    theirs = linalg.expm(flows * time)[0, 0]
    assert unit_availability(failure, repair, time).at_time == pytest.approx(theirs, rel=1e-9)


def test_two_redundant_units(agrees: Agrees) -> None:
    # MIL-HDBK-338B sec. 7 and 10; Birolini, Reliability Engineering, 1-out-of-2 (from memory, numbers worked out).
    two, one = pair_availability(0.001, 0.1), pair_availability(0.001, 0.1, crews=1)
    agrees(two.availability, precise=0.9999019704)
    agrees(one.availability, precise=0.99980396)
    agrees(two.time_to_first_loss, "51500", 51500.0)  # (3 lambda + mu) / (2 lambda^2)
    agrees(one.losses_per_hour, precise=1.960399922e-05)
    # With hardly any repair it is 3 / (2 lambda) = 1500 h.
    agrees(pair_availability(0.001, 1e-12).time_to_first_loss, "1500")


@pytest.mark.parametrize(("share", "unavailability"), [(0.0, 9.802960494e-05), (0.05, 0.0003407372181)])
def test_two_units_with_a_shared_cause(share: float, unavailability: float, agrees: Agrees) -> None:
    # Beta-factor model (Fleming 1975; NUREG/CR-4780; IEC 61508-6 annex D), two crews; worked out twice, also with R.
    agrees(pair_availability(0.001, 0.1, share).unavailability, precise=unavailability)


def test_a_tenth_shared_outweighs_the_rest(agrees: Agrees) -> None:
    # The same: with a tenth shared six times the unavailability of independent units, and a sixth of the time.
    pair = pair_availability(0.001, 0.1, 0.1)
    agrees(pair.unavailability, precise=0.000583565043)
    agrees(pair.time_to_first_loss, precise=8638.655462)


@given(st.floats(1e-4, 1.0), st.floats(1e-2, 10.0), st.floats(0.0, 1.0), st.sampled_from([1, 2]))
def test_a_pair_is_its_chain_of_states(failure: float, repair: float, share: float, crews: int) -> None:
    alone, struck = 2 * (1 - share) * failure, share * failure
    flows = np.array(
        [[-alone - struck, alone, struck], [repair, -repair - failure, failure], [0, crews * repair, -crews * repair]]
    )
    (neither,) = np.linalg.lstsq(np.vstack([flows.T, np.ones(3)]), np.array([0, 0, 0, 1.0]), rcond=None)[0][2:]
    first = np.linalg.solve(flows[:2, :2], -np.ones(2))[0]
    pair = pair_availability(failure, repair, share, crews=crews)
    assert pair.unavailability == pytest.approx(neither, rel=1e-6, abs=1e-14)
    assert pair.time_to_first_loss == pytest.approx(first, rel=1e-6)
    assert pair.losses_per_hour == pytest.approx(neither * crews * repair, rel=1e-6, abs=1e-14)


def test_a_pair_that_never_fails_and_one_that_shares_all() -> None:
    assert pair_availability(0.0, 0.1, 0.5).time_to_first_loss == math.inf
    # All shared: it is lost at lambda, so 1 / lambda to the first loss.
    assert pair_availability(0.002, 0.1, 1.0).time_to_first_loss == pytest.approx(500.0)


# IEC 61508-6 annex B, table B.2 (proof test every 6 months = 4,380 h, 8 h to mend), column 0.5E-07: printed values from
# memory. One channel, then two of which one is enough with beta 2, 10 and 20 %; by part noticed at once.
TABLE_B2 = [
    (0.0, None, "1.1e-4", 0.0001099), (0.6, None, "4.4e-5", 4.42e-05), (0.9, None, "1.1e-5", 1.135e-05),
    (0.99, None, "1.5e-6", 1.495e-06), (0.0, 0.02, "2.2e-6", 2.213494441e-06), (0.0, 0.1, "1.1e-5", 1.100306799e-05),
    (0.0, 0.2, "2.2e-5", 2.199032532e-05), (0.6, 0.02, "8.8e-7", 8.841438869e-07),
    (0.6, 0.1, "4.4e-6", 4.410263132e-06), (0.6, 0.2, "8.8e-6", 8.817935267e-06),
]  # fmt: skip


@pytest.mark.parametrize(("noticed", "share", "printed", "precise"), TABLE_B2)
def test_table_of_the_standard(
    noticed: float, share: float | None, printed: str, precise: float, agrees: Agrees
) -> None:
    agrees(failure_on_demand(0.5e-7, 4380.0, 8.0, noticed=noticed, share=share), printed, precise)


def test_no_share_is_no_single_channel() -> None:
    # share 0 is two channels that fail apart: l^2 T^2 / 3 where nothing is noticed and mending takes no time.
    assert failure_on_demand(1e-4, 100.0, 0.0, share=0.0) == pytest.approx(1e-4**2 * 100**2 / 3)
    assert failure_on_demand(1e-4, 100.0, 0.0) == pytest.approx(1e-4 * 100 / 2)


def test_operational_availability(agrees: Agrees) -> None:
    # Keesee (1965), DTIC AD0617716, on the inputs of a published package's example: 14 failures, 20 repairs, 200 h up,
    # 100 h down, both tails 0.1; worked out with scipy and R. (Its help text calls this 90 %: it is 80 %.)
    value, low, high = availability_limits(14, 20, up=200.0, down=100.0, confidence=0.8)
    agrees(value, precise=0.6666666667)
    agrees(low, precise=0.6337523487)
    agrees(high, precise=0.8075174017)


def test_limits_of_availability_cover_where_the_watch_ends_with_time_up() -> None:
    # 2,000 units watched for 300 h up (mean up 20 h), each repair 2 h on average: availability 10/11. At 95 % at least
    # 93.5 % (three simulation errors below) hold it.
    draws = np.random.default_rng(4)
    held = 0
    for failures in draws.poisson(15, 2000):
        if not failures:
            held += 1
            continue
        down = draws.gamma(failures, 2.0)
        _, low, high = availability_limits(int(failures), int(failures), up=300.0, down=down)
        held += low <= 10 / 11 <= high
    assert held >= stats.binom.ppf(0.001, 2000, 0.95)


@pytest.mark.parametrize(
    "call",
    [
        lambda: unit_availability(-0.1, 1.0),
        lambda: unit_availability(0.1, 0.0),
        lambda: unit_availability(0.1, 1.0, -1.0),
        lambda: pair_availability(0.1, 1.0, 1.2),
        lambda: pair_availability(0.1, 1.0, crews=3),
        lambda: failure_on_demand(0.1, 0.0, 1.0),
        lambda: failure_on_demand(0.1, 1.0, 1.0, noticed=1.1),
        lambda: failure_on_demand(0.1, 1.0, 1.0, share=1.1),
        lambda: availability_limits(0, 1, up=1.0, down=1.0),
        lambda: availability_limits(1, 0, up=1.0, down=1.0),
        lambda: availability_limits(1, 1, up=0.0, down=1.0),
        lambda: availability_limits(1, 1, up=1.0, down=1.0, confidence=1.0),
    ],
)
def test_what_no_formula_can_use_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        call()
