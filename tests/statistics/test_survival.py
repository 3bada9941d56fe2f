"""Kaplan-Meier against the leukaemia and AML textbook tables, scipy and hand-worked small cases."""

import warnings
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipeline.statistics import kaplan_meier

Agrees = Callable[..., None]

# Freireich et al. (1963), remission weeks, as in Gehan (1965), Kalbfleisch and Prentice, and R MASS::gehan; + is cut
# short.
DRUG = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"
# Miller (1981), AML maintenance, R survival::aml.
MAINTAINED = "9 13 13+ 18 23 28+ 31 34 45+ 48 161+"
NOT_MAINTAINED = "5 5 8 8 12 16+ 23 27 30 33 43 45"

# R survfit, printed digits and recomputed values: time, S, S exactly, se, se exactly.
DRUG_TABLE = [
    (6, "0.857", 0.8571428571, "0.0764", 0.07636035483),
    (7, "0.807", 0.8067226891, "0.0869", 0.08693528518),
    (10, "0.753", 0.7529411765, "0.0963", 0.09634965299),
    (13, "0.690", 0.6901960784, "0.1068", 0.1068147078),
    (16, "0.627", 0.6274509804, "0.1141", 0.1140538653),
    (22, "0.538", 0.5378151261, "0.1282", 0.1282337517),
    (23, "0.448", 0.4481792717, "0.1346", 0.1345914568),
]
# R survival, tests/doaml.Rout.save.
AML_TABLE = [
    (9, "0.909", 0.9090909091, "0.0867", 0.0866784172),
    (13, "0.818", 0.8181818182, "0.1163", 0.1162912998),
    (18, "0.716", 0.7159090909, "0.1397", 0.1396649706),
    (23, "0.614", 0.6136363636, "0.1526", 0.152632331),
    (31, "0.491", 0.4909090909, "0.1642", 0.1641932672),
    (34, "0.368", 0.3681818182, "0.1627", 0.1626688858),
    (48, "0.184", 0.1840909091, "0.1535", 0.1534927458),
]


def read(text: str) -> tuple[list[float], list[bool]]:
    words = text.split()
    return [float(word.rstrip("+")) for word in words], [not word.endswith("+") for word in words]


@pytest.mark.parametrize(("data", "expected"), [(DRUG, DRUG_TABLE), (MAINTAINED, AML_TABLE)], ids=["6-MP", "AML"])
def test_printed_survival_and_greenwood_errors(
    data: str, expected: list[tuple[float, str, float, str, float]], agrees: Agrees
) -> None:
    table = kaplan_meier(*read(data)).table
    assert table.time.tolist() == [row[0] for row in expected]
    for survival, se, row in zip(table.survival, table.se, expected, strict=True):
        agrees(survival, row[1], row[2])
        agrees(se, row[3], row[4])


def test_those_cut_short_at_an_event_are_at_risk_there() -> None:
    # By hand from the 6-MP data: 21 at 6 (one of them 6+), 17 at 7, 15 at 10 (one 10+), 12, 11, 7, 6.
    table = kaplan_meier(*read(DRUG)).table
    assert table.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    assert table.events.tolist() == [3, 1, 1, 1, 1, 1, 1]


def test_medians_and_log_log_limits() -> None:
    # R survival, conf.type "log-log", on the same data (Brookmeyer and Crowley): 23 (13, NA), 8 (4, 11).
    drug, placebo = kaplan_meier(*read(DRUG)), kaplan_meier(*read(PLACEBO))
    assert (drug.median, drug.low, drug.high) == (23.0, 13.0, None)
    assert (placebo.median, placebo.low, placebo.high) == (8.0, 4.0, 11.0)
    assert (drug.n, drug.open, placebo.open) == (21, 12, 0)
    # R survival, tests/doaml.Rout.save: medians 31 and 23.
    assert kaplan_meier(*read(MAINTAINED)).median == 31.0
    assert kaplan_meier(*read(NOT_MAINTAINED)).median == 23.0


def test_drives_at_scale(drives: tuple[list[float], list[bool]], agrees: Agrees) -> None:
    # 52,422 hard drives, recomputed with lifelines; 35,949,827.5 drive-days. The curve has no median.
    days, failed = drives
    assert (sum(days), sum(failed)) == (pytest.approx(35_949_827.5), 2_885)
    curve = kaplan_meier(days, failed)
    for age, survival in ((365.0, 0.985493729), (1000.0, 0.9095292966)):
        agrees(curve.table.survival[curve.table.time <= age][-1], precise=survival)
    assert (curve.n, curve.median) == (52_422, None)


def test_quantile_is_the_least_time_at_or_below() -> None:
    # Ten ends at 1..10: S(k) = 1 - k/10, so S(5) is exactly one half and S(9) exactly one tenth.
    curve = kaplan_meier(range(1, 11), [True] * 10)  # type: ignore[arg-type]
    assert curve.median == 5.0
    assert curve.quantile(0.9) == 9.0
    assert curve.quantile(0.91) == 10.0


@pytest.mark.parametrize("n", [2, 6, 14, 22, 46, 98, 998])
def test_a_survival_of_one_half_counts_as_reached(n: int) -> None:
    # Without censoring S(n/2) is one half; as a running product it may come out a little above.
    assert kaplan_meier(np.arange(1.0, n + 1), np.ones(n)).median == n / 2


def test_none_where_the_curve_does_not_get_that_far() -> None:
    # By hand: 1 of 4 ends at 2, S = 0.75 for good. se of log(-log S) = sqrt(1 / 12) / -ln 0.75 = 1.0035, so the lower
    # limit is 0.75^exp(1.96 * 1.0035) = 0.75^7.15 = 0.128: already below one half at 2.
    curve = kaplan_meier([2, 3, 3, 3], [1, 0, 0, 0])
    assert (curve.median, curve.low, curve.high, curve.quantile(0.9)) == (None, 2.0, None, None)
    assert curve.quantile(0.25) == 2.0


def test_nothing_all_cut_short_and_zero_durations() -> None:
    nothing, cut = kaplan_meier([], []), kaplan_meier([0, 4], [0, 0])
    for curve, n in ((nothing, 0), (cut, 2)):
        assert (curve.n, curve.open) == (n, n)
        assert (curve.median, curve.low, curve.high, curve.quantile(0.5)) == (None, None, None, None)
        assert curve.table.time.size == 0
    # By hand: of 3 one ends at once, so S(0) = 2/3; the last ends at 3, so S(3) = 0.
    instant = kaplan_meier([0, 0, 3], [True, False, True])
    assert instant.table.time.tolist() == [0.0, 3.0]
    assert instant.table.survival.tolist() == [pytest.approx(2 / 3), 0.0]
    assert instant.median == 3.0


def test_a_curve_that_ends_at_zero_gives_no_warning_and_no_limit_there() -> None:
    # R's survfit prints NA for error and log-log limits where S is 0; one single end bounds nothing.
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        curve = kaplan_meier([7], [True])
    assert (curve.median, curve.low, curve.high) == (7.0, None, None)
    assert np.isnan([curve.table.se[0], curve.table.low[0], curve.table.high[0]]).all()


def test_pointwise_limits_by_hand() -> None:
    # Two ends, at 1 and 2: S(1) = 0.5, Greenwood sum 1/(2*1) = 0.5, se of log(-log S) = sqrt(0.5)/ln 2 = 1.020139.
    # exp(1.959964 * 1.020139) = 7.38459: limits 0.5^7.38459 = 0.0059841 and 0.5^(1/7.38459) = 0.910402.
    table = kaplan_meier([1, 2], [1, 1]).table
    assert table.low[0] == pytest.approx(0.0059841, rel=2e-4)
    assert table.high[0] == pytest.approx(0.910402, rel=1e-5)


def test_columns_are_the_table_in_order() -> None:
    columns = kaplan_meier([1, 2], [1, 1]).table.columns()
    assert list(columns) == ["time", "at_risk", "events", "survival", "se", "low", "high"]
    assert columns["time"].tolist() == [1.0, 2.0]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 30), st.booleans()), min_size=1, max_size=60))
def test_survival_and_limits_equal_scipys(rows: list[tuple[int, bool]]) -> None:
    times, seen = np.array([row[0] for row in rows], dtype=float), np.array([row[1] for row in rows])
    table = kaplan_meier(times, seen, confidence=0.9).table
    if seen.any():
        theirs = stats.ecdf(stats.CensoredData(uncensored=times[seen], right=times[~seen])).sf
        assert table.survival == pytest.approx(theirs.evaluate(table.time), abs=1e-12)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # scipy warns where its limits do not exist
            band = theirs.confidence_interval(0.9, method="log-log")
        inside = table.survival > 0
        assert table.low[inside] == pytest.approx(band.low.evaluate(table.time)[inside], abs=1e-9)
        assert table.high[inside] == pytest.approx(band.high.evaluate(table.time)[inside], abs=1e-9)


def test_fifty_thousand_lives_equal_scipys() -> None:
    # As many as the 52,422 disk drives of a public fleet record; drawn here, seeded.
    draw = np.random.default_rng(11)
    lives, cuts = draw.weibull(1.4, 50_000) * 6000.0, draw.uniform(1.0, 2000.0, 50_000)
    times, seen = np.minimum(lives, cuts).round(), lives <= cuts
    table = kaplan_meier(times, seen).table
    theirs = stats.ecdf(stats.CensoredData(uncensored=times[seen], right=times[~seen])).sf
    assert table.survival == pytest.approx(theirs.evaluate(table.time), abs=1e-10)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: kaplan_meier([-1], [1]), 'durations is "-1.0"; allowed is numbers of 0 or more'),
        (lambda: kaplan_meier([1, 2], [1]), "durations has 2 values and observed has 1"),
        (lambda: kaplan_meier([float("nan")], [1]), "finite"),
        (lambda: kaplan_meier([1], [2]), "true or false"),
        (lambda: kaplan_meier([1], [1], confidence=1.0), "confidence"),
        (lambda: kaplan_meier([1], [1]).quantile(1.5), 'p is "1.5"'),
        (lambda: kaplan_meier([1], [1]).quantile(0.0), 'p is "0.0"'),
    ],
)
def test_wrong_input_is_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
