"""Exact limits against Garwood's table, vital statistics, reliability handbooks, published examples and scipy."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipeline.statistics import mtbf_limits, poisson_limits, proportion_limits, rate_ratio

Agrees = Callable[..., None]

# Garwood (1936), Biometrika 28:437-442; Pearson and Hartley, Biometrika Tables I, Table 40. Printed digits from memory,
# ten-digit values recomputed from the chi-square formula and by inverting the Poisson tail.
GARWOOD = [
    (0, "0", 0.0, "3.689", 3.688879454),
    (1, "0.0253", 0.02531780798, "5.572", 5.571643391),
    (2, "0.242", 0.2422092785, "7.225", 7.224687668),
    (5, "1.62", 1.62348639, "11.67", 11.66833208),
    (10, "4.80", 4.795388696, "18.39", 18.39035604),
    (20, "12.22", 12.21651959, "30.89", 30.8883779),
    (50, "37.11", 37.11096374, "65.92", 65.91876666),
]


@pytest.mark.parametrize(("count", "low", "low_exact", "high", "high_exact"), GARWOOD)
def test_garwood_table(count: int, low: str, low_exact: float, high: str, high_exact: float, agrees: Agrees) -> None:
    below, above = poisson_limits(count)
    agrees(below, low, low_exact)
    agrees(above, high, high_exact)


def test_zero_events_have_a_two_sided_upper_limit() -> None:
    # -ln(0.025), not the one-sided "rule of three" -ln(0.05): closed form, P(X = 0) = exp(-m).
    assert poisson_limits(0) == (0.0, pytest.approx(-math.log(0.025), rel=1e-12))


# CDC/NCHS, Deaths: Final Data, Technical Notes, 95 % limit factors; from memory, ten digits recomputed (scipy,
# statsmodels confint_poisson "exact-c").
@pytest.mark.parametrize(
    ("count", "low", "low_exact", "high", "high_exact"),
    [
        (1, "0.02532", 0.02531780798, "5.57164", 5.571643391),
        (2, "0.12110", 0.1211046393, "3.61234", 3.612343834),
        (5, "0.32470", 0.324697278, "2.33367", 2.333666416),
        (10, "0.47954", 0.4795388696, "1.83904", 1.839035604),
        (99, "0.81275", 0.8127506551, "1.21746", 1.217464119),
    ],
)
def test_vital_statistics_factors(
    count: int, low: str, low_exact: float, high: str, high_exact: float, agrees: Agrees
) -> None:
    # exposure = count, so the limits are those of a rate of 1: the factors themselves.
    below, above = poisson_limits(count, exposure=count)
    agrees(below, low, low_exact)
    agrees(above, high, high_exact)


def test_rate_of_the_r_manual(agrees: Agrees) -> None:
    # R 4.2, help page of stats::poisson.test, example 1: 137 events, exposure 24.19893.
    low, high = poisson_limits(137, 24.19893)
    agrees(low, "4.753125", 4.753124805)
    agrees(high, "6.692709", 6.692709334)


def test_rate_per_thousand_hours(agrees: Agrees) -> None:
    # Garwood's method: 42 events in 17,520 h at 90 %; recomputed with R poisson.test.
    low, high = poisson_limits(42, 17.520, confidence=0.9)
    agrees(low, precise=1.822952667)
    agrees(high, precise=3.100681877)


def test_one_sided_bounds_of_no_event(agrees: Agrees) -> None:
    # NIST/SEMATECH e-Handbook 8.4.5.1: MTBF lower bound T / -ln(alpha). One-sided 95 % is two-sided 90 %, 60 % is 20 %.
    agrees(poisson_limits(0, 1000, confidence=0.9)[1], precise=0.002995732274)
    agrees(mtbf_limits(0, 1000, confidence=0.9)[0], precise=333.8082007)
    agrees(mtbf_limits(0, 1000, confidence=0.2)[0], precise=1091.356668)


# MIL-HDBK-781A (1996), fixed-duration test plans (from memory, recomputed): discrimination ratio d, duration in units
# of the lower MTBF, reject at r failures, true producer's and consumer's risk in percent (printed, recomputed).
@pytest.mark.parametrize(
    ("d", "duration", "reject", "producer", "consumer"),
    [
        (1.5, 45.0, 37, ("12.0", 11.9626641), ("9.9", 9.944439867)),
        (2.0, 18.8, 14, ("9.6", 9.580718158), ("10.6", 10.62084264)),
        (3.0, 9.3, 6, ("9.4", 9.433383461), ("9.9", 9.864977604)),
        (3.0, 4.3, 3, ("17.5", 17.46140567), ("19.7", 19.73546908)),
    ],
)
def test_test_plan_risks_are_the_limits_turned_round(
    d: float, duration: float, reject: int, producer: tuple[str, float], consumer: tuple[str, float], agrees: Agrees
) -> None:
    # P(reject or more) at the upper MTBF is the producer's risk, so the limit with this tail is the mean there.
    agrees(producer[1], producer[0])
    agrees(consumer[1], consumer[0])
    agrees(poisson_limits(reject, confidence=1 - 2 * producer[1] / 100)[0], precise=duration / d)
    agrees(poisson_limits(reject - 1, confidence=1 - 2 * consumer[1] / 100)[1], precise=duration)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 500), st.floats(0.01, 1e5), st.floats(0.5, 0.999))
def test_poisson_limits_invert_the_tails_of_the_count(count: int, exposure: float, confidence: float) -> None:
    # scipy's own Poisson law as judge: at each limit the tail beyond the count is half of what is left out.
    low, high = poisson_limits(count, exposure, confidence)
    tail = (1 - confidence) / 2
    assert stats.poisson.cdf(count, high * exposure) == pytest.approx(tail, rel=1e-8)
    if count:
        assert stats.poisson.sf(count - 1, low * exposure) == pytest.approx(tail, rel=1e-8)
    assert low <= count / exposure < high


def test_ratio_of_the_r_manual(agrees: Agrees) -> None:
    # R 4.2, stats::poisson.test, example 2. R prints p = 0.07967 (minimum likelihood) beside the same limits, though
    # these contain 1 by more; the p that belongs to them is twice the smaller tail.
    ratio, low, high, p = rate_ratio(11, 800, 21, 1083 + 1050 + 878)
    agrees(ratio, "1.971488", 1.971488095)
    agrees(low, "0.8584264", 0.8584264034)
    agrees(high, "4.277266", 4.277265944)
    agrees(p, precise=0.1120173196)


def test_ratio_of_the_rateratio_vignette(agrees: Agrees) -> None:
    # Fay, "Testing the Ratio of Two Poisson Rates", CRAN package rateratio.test.
    ratio, low, high, p = rate_ratio(2, 17877, 9, 16660)
    agrees(ratio, "0.2070941557", 0.2070941557)
    agrees(low, "0.02177406", 0.02177406276)
    agrees(high, "1.00054910", 1.000549104)
    agrees(p, "0.05011", 0.05010649561)


def test_ratio_with_nothing_in_one_arm(agrees: Agrees) -> None:
    # Lehmann (1986) p. 152; recomputed with R. Upper limit by hand: q = 1 - 0.025^(1/6), q t_b / ((1 - q) t_a).
    ratio, low, high, p = rate_ratio(0, 5000, 6, 5200)
    q = 1 - 0.025 ** (1 / 6)
    assert (ratio, low) == (0.0, 0.0)
    agrees(high, precise=0.8832836421)
    assert high == pytest.approx(q / (1 - q) * 5200 / 5000, rel=1e-10)
    agrees(p, precise=0.03511147118)


def test_ratio_of_the_nurses_data(agrees: Agrees) -> None:
    # Gu, Ng, Tang and Schucany (2008), Biometrical Journal 50:283-298: data from memory, limits recomputed with R.
    ratio, low, high, p = rate_ratio(60, 51477.5, 30, 54308.7)
    agrees(ratio, precise=2.109997572)
    agrees(low, precise=1.339735722)
    agrees(high, precise=3.388365574)
    agrees(p, precise=0.0008561053881)


def test_ratio_without_events_in_b_or_anywhere() -> None:
    ratio, low, high, p = rate_ratio(5, 1, 0, 1)
    # By hand: lower limit of q is 0.025^(1/5); p is 2 * 0.5^5.
    assert (ratio, high) == (math.inf, math.inf)
    assert low == pytest.approx(0.025**0.2 / (1 - 0.025**0.2), rel=1e-10)
    assert p == pytest.approx(2 / 32)
    ratio, low, high, p = rate_ratio(0, 3, 0, 1)
    assert math.isnan(ratio)
    assert (low, high, p) == (0.0, math.inf, 1.0)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 60), st.floats(1, 1e4), st.integers(0, 60), st.floats(1, 1e4))
def test_p_agrees_with_the_interval_and_groups_can_be_swapped(a: int, time_a: float, b: int, time_b: float) -> None:
    _, low, high, p = rate_ratio(a, time_a, b, time_b)
    _, low_swapped, high_swapped, p_swapped = rate_ratio(b, time_b, a, time_a)
    if abs(p - 0.05) > 1e-9:
        assert (p < 0.05) == (low > 1 or high < 1)
    assert p_swapped == pytest.approx(p, rel=1e-9)
    assert low_swapped == pytest.approx(1 / high if high else math.inf, rel=1e-7)
    assert high_swapped == pytest.approx(1 / low if low else math.inf, rel=1e-7)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 300), st.data(), st.floats(0.5, 0.999))
def test_proportion_limits_equal_scipys_exact_interval(trials: int, data: st.DataObject, confidence: float) -> None:
    successes = data.draw(st.integers(0, trials))
    theirs = stats.binomtest(successes, trials).proportion_ci(confidence_level=confidence, method="exact")
    assert proportion_limits(successes, trials, confidence) == (
        pytest.approx(theirs.low, rel=1e-7, abs=1e-12),
        pytest.approx(theirs.high, rel=1e-7, abs=1e-12),
    )


def test_proportion_at_none_and_all() -> None:
    # Closed form: with 0 of n the upper limit solves (1 - p)^n = 0.025; with n of n the mirror image.
    assert proportion_limits(0, 10) == (0.0, pytest.approx(1 - 0.025**0.1, rel=1e-12))
    assert proportion_limits(10, 10) == (pytest.approx(0.025**0.1, rel=1e-12), 1.0)
    assert proportion_limits(0, 0) == (0.0, 1.0)


# NIST/SEMATECH e-Handbook 8.4.5.1, tables of MTBF interval factors (formula seen, entries from memory): confidence,
# failures, lower and upper factor times T / r. The handbook's 19.4958 and 39.4978 are one unit off in the last place
# (19.49573 and 39.49789 exactly) and are left out as printed.
NIST_FACTORS = [
    (0.90, 1, ("0.2108", 0.2107986002), (None, 19.49572575)),
    (0.90, 2, ("0.3177", 0.3176724207), ("5.6281", 5.628071527)),
    (0.90, 5, ("0.4756", 0.4756000568), ("2.5379", 2.537878383)),
    (0.90, 10, ("0.5895", 0.5895454988), ("1.8432", 1.843180134)),
    (0.95, 1, ("0.1795", 0.1794802592), (None, 39.49789021)),
    (0.95, 2, ("0.2768", 0.2768285761), ("8.2573", 8.257321982)),
    (0.95, 5, ("0.4285", 0.4285102589), ("3.0798", 3.079791756)),
    (0.95, 10, ("0.5438", 0.5437632625), ("2.0853", 2.085336692)),
]


@pytest.mark.parametrize(("confidence", "failures", "low", "high"), NIST_FACTORS)
def test_mtbf_factors_of_the_handbook(
    confidence: float, failures: int, low: tuple[str, float], high: tuple[str | None, float], agrees: Agrees
) -> None:
    below, above = mtbf_limits(failures, failures, confidence)  # T = r: the factors themselves
    agrees(below, *low)
    agrees(above, *high)


def test_mtbf_without_a_failure(agrees: Agrees) -> None:
    # Same tables, zero-failure lower factors, times T.
    agrees(mtbf_limits(0, 1, 0.90)[0], "0.3338", 0.3338082007)
    agrees(mtbf_limits(0, 1, 0.95)[0], "0.2711", 0.2710850307)
    assert mtbf_limits(0, 1)[1] == math.inf


def test_mtbf_truncated_by_failure(agrees: Agrees) -> None:
    # MIL-HDBK-338B (1998) 8.3.2.5.2: 20 items on replacement test, stopped at the 10th failure after 80 h (from
    # memory).
    low, high = mtbf_limits(10, 20 * 80, 0.95, truncation="failure")
    agrees(low, "93.65", 93.65047743)
    agrees(high, "333.65", 333.6538707)
    agrees(mtbf_limits(10, 1600, 0.90, truncation="failure")[0], "101.88", 101.8769788)  # one-sided 95 %


def test_mtbf_of_two_aircraft(agrees: Agrees) -> None:
    # Proschan (1963), Technometrics 5:375-383; data R boot::aircondit, limits Davison and Hinkley (1997), ch. 5 (from
    # memory).
    hours = [3, 5, 7, 18, 43, 85, 91, 98, 100, 130, 230, 487]
    low, high = mtbf_limits(len(hours), sum(hours), 0.95, truncation="failure")
    agrees(sum(hours) / len(hours), "108.083", 108.0833333)
    agrees(low, "65.9", 65.89764567)
    agrees(high, "209.2", 209.1741455)
    # R boot::aircondit7: 24 intervals, mean 64.125; limits recomputed in R.
    low, high = mtbf_limits(24, 24 * 64.125, 0.95, truncation="failure")
    agrees(low, precise=44.59409865)
    agrees(high, precise=100.0828961)


def test_mtbf_of_small_tests(agrees: Agrees) -> None:
    # Inputs of the documentation of exp_mean_ci (github jjw3952/mcotear), 80 %; limits recomputed in R.
    agrees(mtbf_limits(0, 367, 0.8)[0], precise=159.3860749)
    low, high = mtbf_limits(7, 920, 0.8)
    agrees(low, precise=78.15875334)
    agrees(high, precise=236.214399)


def test_mtbf_of_diesel_fans(agrees: Agrees) -> None:
    # Nelson (1982), Applied Life Data Analysis: 70 fans, 344,440 fan hours, 12 failures, 34.8 per million hours.
    low, high = mtbf_limits(12, 344_440, 0.95)
    agrees(12 / 0.344440, "34.8")
    agrees(low, precise=16431.96348)
    agrees(high, precise=55549.68595)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: poisson_limits(-1), 'count is "-1"'),
        (lambda: poisson_limits(1.5), 'count is "1.5"'),  # type: ignore[arg-type]
        (lambda: poisson_limits(1, 0), 'exposure is "0"; allowed is a number above 0'),
        (lambda: poisson_limits(1, 1, 95), 'confidence is "95"'),
        (lambda: proportion_limits(3, 2), 'successes is "3"; allowed is at most trials, 2'),
        (lambda: proportion_limits(0, -2), "trials"),
        (lambda: rate_ratio(1, 1, 1, 0), "exposure_b"),
        (lambda: rate_ratio(1, math.nan, 1, 1), "exposure_a"),
        (lambda: rate_ratio(-1, 1, 1, 1), "count_a"),
        (lambda: mtbf_limits(1, -1), 'time is "-1"'),
        (lambda: mtbf_limits(1, 1, truncation="never"), 'truncation is "never"; allowed is "time" or "failure"'),
        (lambda: mtbf_limits(0, 1, truncation="failure"), "at least 1"),
        (lambda: mtbf_limits(-1, 1), "failures"),
    ],
)
def test_wrong_input_is_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
