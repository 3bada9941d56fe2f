"""The mean cumulative function against Nelson's valve seats, textbook examples, R survfit and hand arithmetic."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.statistics import confidence_for_few, mean_cumulative_function

Agrees = Callable[..., None]

# ReliaWiki "Recurrent Event Data Analysis", as printed in the docs of the Python package reliability: event ages, end.
FIVE = [([5, 10, 15], 17), ([6, 13, 17], 19), ([12, 20, 25], 26), ([13, 15], 24), ([16, 22, 25], 28)]
# Meeker and Escobar (1998), Tables 16.1 and 16.2 (SMRD.data hpcrepairs).
THREE = [([5, 8], 12), ([], 16), ([1, 8, 16], 20)]
# Nelson (1995), Technometrics 37:147-157, valve seats (R survival::valveSeat): engine: replacements; end of history.
VALVES = """251: ;761 252: ;759 327:98;667 328:326,653,653;667 329: ;665 330:84;667 331:87;663 389:646;653 390:92;653
391: ;651 392:258,328,377,621;650 393:61,539;648 394:254,276,298,640;644 395:76,538;642 396:635;641 397:349,404,561;649
398: ;631 399: ;596 400:120,479;614 401:323,449;582 402:139,139;589 403: ;593 404:573;589 405:165,408,604;606
406:249;594 407:344,497;613 408:265,586;595 409:166,206,348;389 410: ;601 411:410,581;601 412: ;611 413: ;608 414: ;587
415:367;603 416:202,563,570;585 417: ;587 418: ;578 419: ;578 420: ;586 421: ;585 422: ;582"""


def valves() -> list[tuple[list[float], float]]:
    engines = VALVES.replace(": ;", ":;").split()
    rows = [engine.partition(":")[2].split(";") for engine in engines]
    return [([float(age) for age in ages.split(",") if age], float(end)) for ages, end in rows]


def test_printed_function_of_five_systems(agrees: Agrees) -> None:
    # Printed event by event; at a tied age the last value counts. Its variance takes increments as independent and its
    # limits are one-sided, so neither can be compared: see the robust errors below.
    table = mean_cumulative_function(FIVE)
    printed = {5: "0.2", 6: "0.4", 10: "0.6", 12: "0.8", 13: "1.2", 15: "1.6", 16: "1.8", 17: "2.0", 20: "2.33333"}
    printed |= {22: "2.66667", 25: "3.66667"}
    assert table.age.tolist() == list(printed)
    for value, expected in zip(table.mcf, printed.values(), strict=True):
        agrees(value, expected)
    # By hand: three systems are left after 19 and two after 24: 2 + 1/3, + 1/3, + 2/2.
    assert table.mcf[-3:] == pytest.approx([7 / 3, 8 / 3, 11 / 3], rel=1e-12)


def test_robust_errors_of_five_systems(agrees: Agrees) -> None:
    # Lawless and Nadeau (1995), Technometrics 37:158-168; recomputed with R survfit(..., id).
    table = mean_cumulative_function(FIVE)
    expected = {5: 0.1788854382, 13: 0.3346640106, 15: 0.45607017, 17: 0.4, 20: 0.4354648432, 25: 0.3810317378}
    for age, se in expected.items():
        agrees(table.se[table.age == age][0], precise=se)


def test_valve_seats(agrees: Agrees) -> None:
    # Function and error recomputed with R survfit; 41 engines and 48 replacements are the paper's.
    table = mean_cumulative_function(valves())
    assert table.events.sum() == 48
    assert table.at_risk[0] == 41
    expected = {
        61: (41, 0.0243902439, 0.02409096577),
        92: (41, 0.1219512195, 0.05110465579),
        202: (41, 0.2926829268, 0.07898751352),
        328: (41, 0.5365853659, 0.1149065832),
        479: (40, 0.7835365854, 0.1460688448),
        640: (16, 1.243542214, 0.2263244176),
        646: (13, 1.320465291, 0.228505155),
        653: (9, 1.542687514, 0.3116560748),
    }
    for age, (at_risk, mcf, se) in expected.items():
        row = int(np.flatnonzero(table.age == age)[0])
        assert table.at_risk[row] == at_risk
        agrees(table.mcf[row], precise=mcf)
        agrees(table.se[row], precise=se)


def test_three_systems_by_hand(agrees: Agrees) -> None:
    # 1/3; 2/3; 2/3 + 2/3; + 1/2 (the system that ends at 16 is still at risk there). Errors recomputed with R survfit.
    table = mean_cumulative_function(THREE)
    assert table.age.tolist() == [1.0, 5.0, 8.0, 16.0]
    assert table.at_risk.tolist() == [3, 3, 3, 2]
    for value, printed in zip(table.mcf, ["0.333", "0.667", "1.333", "1.833"], strict=True):
        agrees(value, printed)
    assert table.mcf == pytest.approx([1 / 3, 2 / 3, 4 / 3, 11 / 6], rel=1e-12)
    for value, se in zip(table.se, [0.272165527, 0.272165527, 0.544331054, 0.8686942095], strict=True):
        agrees(value, precise=se)


def test_limits_are_on_the_log_scale() -> None:
    # By hand at age 1 above: 1/3 exp(+-1.959964 * 0.272165527 * 3) = 1/3 exp(+-1.600304) = 0.067285 and 1.651348.
    table = mean_cumulative_function(THREE)
    assert table.low[0] == pytest.approx(0.067285, rel=1e-4)
    assert table.high[0] == pytest.approx(1.651348, rel=1e-4)
    assert list(table.columns()) == ["age", "at_risk", "events", "mcf", "se", "low", "high"]


@settings(max_examples=50, deadline=None)
@given(st.lists(st.lists(st.integers(0, 9), max_size=6), min_size=2, max_size=8))
def test_without_early_ends_it_is_the_plain_mean(histories: list[list[int]]) -> None:
    # All watched to 10: the last value is the mean count, its error the standard deviation of the counts over sqrt(n).
    table = mean_cumulative_function([(ages, 10) for ages in histories])
    counts = np.array([len(ages) for ages in histories])
    if counts.sum():
        assert table.mcf[-1] == pytest.approx(counts.mean())
        assert table.se[-1] == pytest.approx(counts.std() / np.sqrt(counts.size), abs=1e-9)
    else:
        assert table.age.size == 0


def test_one_system_shows_no_spread() -> None:
    table = mean_cumulative_function([([0, 3, 3], 5)])
    assert table.mcf.tolist() == [1.0, 3.0]
    assert np.isnan([table.se, table.low, table.high]).all()


@pytest.mark.parametrize(
    ("systems", "words"),
    [
        ([], "one system or more"),
        ([([6], 5)], 'event ages is "6.0"; allowed is at most the end age, 5'),
        ([([-1], 5)], "event ages"),
        ([([1], -5)], "end age"),
        ([([1], float("nan"))], "end age"),
    ],
)
def test_wrong_input_is_refused(systems: list[tuple[list[float], float]], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        mean_cumulative_function(systems)


def test_few_systems_ask_for_a_higher_level() -> None:
    # Two systems: t with 1 degree of freedom is Cauchy, tan(0.45 pi) = 6.313752 at 90 %, times sqrt 2 = 8.928994; the
    # normal leaves 4e-19 beyond that, and 2^-52 is the least that a level can leave out. Five at 95 %: t of 4 degrees
    # is 2.776445 in any printed table, times sqrt(5/4) = 3.104160; the tail there is 0.000954 each side, by erfc.
    assert confidence_for_few(0.9, 2) == 1.0 - 2.0**-52
    assert np.isfinite(mean_cumulative_function([([1, 2], 5), ([3], 5)], 1.0 - 2.0**-52).high).all()
    assert confidence_for_few(0.95, 5) == pytest.approx(1.0 - math.erfc(3.104160 / math.sqrt(2.0)), abs=1e-7)
    assert confidence_for_few(0.95, 10**6) == pytest.approx(0.95, abs=1e-6)
    with pytest.raises(ValueError, match='systems is "1"; allowed is a whole number, 2 or more'):
        confidence_for_few(0.95, 1)
