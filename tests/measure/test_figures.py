"""Figures of a group against published limits and tables, and continuity worked by hand."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from pipeline.measure.figures import COUNTS, SECONDS, continuity, group_figures, rate_per_1000_h, recovery_times
from pipeline.measure.groups import Metrics

SECOND = 1_000_000
HOUR_S = 3600.0
TIMES = {
    "to_take_s": "is_taken",
    "to_air_s": "is_back",
    "to_cover_s": "is_covered_again",
    "to_service_s": "is_restored",
}


def no_recoveries() -> pl.DataFrame:
    schema: dict[str, Any] = dict.fromkeys(("month", "channel", "machine"), pl.String)
    schema |= dict.fromkeys(TIMES, pl.Float64) | dict.fromkeys(TIMES.values(), pl.Boolean)
    return pl.DataFrame(schema=schema)


def half_unit(digits: str) -> float:
    """Half a unit of the last digit printed."""
    return 0.5000001 * 10.0 ** -len(digits.partition(".")[2])


def agrees(value: float | None, printed: str) -> None:
    assert value is not None
    assert abs(value - float(printed)) <= half_unit(printed), f"{value} is not {printed}"


def test_continuity_by_hand() -> None:
    """1,000 s of air, 50 lost, 200 unknown.

    Of the 800 known 50 are lost: 1 − 50/800 = 0.9375. Unknown all lost: 1 − 250/1,000 = 0.75; all good: 1 − 50/1,000.
    """
    figures = continuity(1000 * SECOND, 50 * SECOND, 200 * SECOND)
    assert figures == {"continuity": 0.9375, "continuity_low": 0.75, "continuity_high": 0.95}


@pytest.mark.parametrize(
    ("air", "lost", "unknown", "expected"),
    [
        (0, 0, 0, (None, None, None)),  # no air time: nothing to divide by
        (100, 0, 100, (None, 0.0, 1.0)),  # nothing known: no figure, and bounds that say so
        (100, 0, 0, (1.0, 1.0, 1.0)),
        (100, 100, 0, (0.0, 0.0, 0.0)),
    ],
)
def test_continuity_at_its_ends(air: int, lost: int, unknown: int, expected: tuple[float | None, ...]) -> None:
    assert tuple(continuity(air * SECOND, lost * SECOND, unknown * SECOND).values()) == expected


def test_rate_with_limits_of_a_published_example() -> None:
    """R, stats::poisson.test help page, first example: 137 events in 24.19893 units of exposure.

    Printed there: rate 5.661407, 95 % limits 4.753125 and 6.692709. A unit is taken as 1,000 air hours.
    """
    rate = rate_per_1000_h(137, 24.19893 * 1000 * HOUR_S)
    agrees(rate["value"], "5.661407")
    agrees(rate["low"], "4.753125")
    agrees(rate["high"], "6.692709")


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [(1, "0.02532", "5.57164"), (2, "0.12110", "3.61234"), (5, "0.32470", "2.33367"), (10, "0.47954", "1.83904"),
     (99, "0.81275", "1.21746")],
)  # fmt: skip
def test_limits_are_the_rate_times_the_published_factors(count: int, low: str, high: str) -> None:
    """CDC/NCHS, Deaths: Final Data, technical notes: 95 % limit factors of a rate by its count (from memory)."""
    rate = rate_per_1000_h(count, 2500 * HOUR_S)
    assert rate["value"] == pytest.approx(count / 2.5)
    assert rate["low"] is not None
    assert rate["high"] is not None
    agrees(rate["low"] / (count / 2.5), low)
    agrees(rate["high"] / (count / 2.5), high)


def test_no_event_has_an_upper_limit_and_no_air_has_no_rate() -> None:
    """Garwood (1936): 0 events have the limits 0 and 3.689 (−ln 0.025); here in 1,000 h."""
    rate = rate_per_1000_h(0, 1000 * HOUR_S)
    assert (rate["value"], rate["low"]) == (0.0, 0.0)
    agrees(rate["high"], "3.689")
    assert rate_per_1000_h(3, 0.0) == {"value": None, "low": None, "high": None}


# Freireich et al. (1963), remission in weeks, both arms as in Gehan (1965) and R MASS::gehan; + is cut short.
DRUG = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"


def as_recoveries(weeks: str, *, without: int = 0) -> pl.DataFrame:
    """The durations as times to air, and so many events to which the time does not apply."""
    rows = [(float(word.rstrip("+")), not word.endswith("+")) for word in weeks.split()]
    rows += [(None, True)] * without  # type: ignore[list-item]
    return pl.DataFrame(rows, schema={"to_air_s": pl.Float64, "is_back": pl.Boolean}, orient="row")


def test_times_to_recover_of_the_leukaemia_data() -> None:
    """R survfit with log-log limits: median 23, low 13, high not reached. 12 of 21 are cut short (counted above).

    The curve ends at S = 0.448, so the 90 % quantile, S ≤ 0.1, is not reached either.
    """
    figure = recovery_times(as_recoveries(DRUG), "to_air_s", "is_back")
    assert figure == {"median": 23.0, "p90": None, "low": 13.0, "high": None, "n": 21, "open": 12}


def test_times_to_recover_with_nothing_cut_short() -> None:
    """R survfit with log-log limits: median 8, low 4, high 11. Rows that do not apply are not counted.

    p90 by hand: of 21 at most 2.1 may be left, so 19 must have ended; the 19th in order is 17.
    """
    figure = recovery_times(as_recoveries(PLACEBO, without=5), "to_air_s", "is_back")
    assert figure == {"median": 8.0, "p90": 17.0, "low": 4.0, "high": 11.0, "n": 21, "open": 0}


def test_no_events_have_no_times() -> None:
    figure = recovery_times(as_recoveries(""), "to_air_s", "is_back")
    assert figure == {"median": None, "p90": None, "low": None, "high": None, "n": 0, "open": 0}


def supply(rows: list[tuple[str, int, int, int]]) -> Metrics:
    """Rows of (channel, air, lost, interruptions) as metrics, seconds given in microseconds."""
    additive = pl.DataFrame(rows, schema=["channel", "air_us", "lost_us", "interruptions_count"], orient="row")
    return Metrics(additive, no_recoveries())


def test_interruption_indices_of_the_standard_sample_year() -> None:
    """IEEE Std 1366-2003, sample system (from memory): 2,000 customers, seven sustained interruptions of a year.

    Mapping: a customer is a channel on air all the year, and an interruption of k customers is one on each of k
    channels. Then per channel-year interruptions are SAIFI 1.61, lost minutes SAIDI 86.110; lost minutes per
    interruption are CAIDI 53.57, and continuity is ASAI 0.999836.
    """
    minutes_and_customers = {8.17: 200, 71.3: 600, 30.3: 25, 267.2: 90, 120: 700, 10: 1500, 40: 100}
    minute = 60 * SECOND
    rows = [("all", 2000 * 525_600 * minute, 0, 0)]
    rows += [
        ("all", 0, round(minutes * customers * minute), customers)
        for minutes, customers in minutes_and_customers.items()
    ]
    figures = group_figures(supply(rows), {})
    agrees(figures["interruptions"] / 2000, "1.61")
    agrees(figures["lost_s"] / 60 / 2000, "86.110")
    agrees(figures["lost_s"] / 60 / figures["interruptions"], "53.57")
    agrees(figures["continuity"], "0.999836")


# Billinton and Allan, Reliability Evaluation of Power Systems (2nd ed. 1996), tables 7.7 to 7.9, lateral protection
# (from memory): load point, interruptions a year, hours lost a year, customers.
FEEDER = [("A", 1.0, 3.6, 1000), ("B", 1.4, 4.4, 800), ("C", 1.2, 4.0, 700), ("D", 1.0, 3.6, 500)]


def test_interruption_indices_of_a_radial_feeder() -> None:
    """Mapping as above, a year of 8,760 h: SAIFI 1.15, SAIDI 3.91 h, CAIDI 3.39 h, ASAI 0.999554.

    Point B on its own: 1 − 4.4/8,760 = 0.9994977.
    """
    hour = 3600 * SECOND
    rows = [
        (point, 8760 * hour * served, round(lost * served * hour), round(rate * served))
        for point, rate, lost, served in FEEDER
    ]
    metrics = supply(rows)
    figures = group_figures(metrics, {})
    agrees(figures["interruptions"] / 3000, "1.15")
    agrees(figures["lost_s"] / 3600 / 3000, "3.91")
    agrees(figures["lost_s"] / 3600 / figures["interruptions"], "3.39")
    agrees(figures["continuity"], "0.999554")
    agrees(group_figures(metrics, {"channel": "B"})["continuity"], "0.9994977")


def test_figures_of_a_group_have_every_name_and_only_machines_have_duty() -> None:
    """Names of the contract, section 7. One row with protect duty shows it where a machine is asked for."""
    row = {"month": ["2031-03"], "channel": ["ONE"], "machine": ["A1"], "air_us": [7200 * SECOND]}
    counts = {"forced_count": [2], "precaution_count": [1], "unexplained_count": [1], "planned_count": [5]}
    additive = pl.DataFrame(row | counts | {"protect_us": [90 * SECOND], "cover_losses_count": [3]})
    metrics = Metrics(additive, no_recoveries())
    total = group_figures(metrics, {})
    names = {f"{name}_s" for name in SECONDS} | set(COUNTS) | {"continuity", "continuity_low", "continuity_high"}
    names |= {"protect_switches", "protect_switches_per_1000_air_h", *TIMES}
    assert set(total) == names
    assert total["protect_switches"] == 4  # 2 forced, 1 precaution, 1 unexplained; the planned ones are none
    assert total["protect_switches_per_1000_air_h"]["value"] == pytest.approx(2000)  # 4 in 2 h
    machine = group_figures(metrics, {"machine": "A1"})
    assert set(machine) - names == {"protect_s", "cover_losses"}
    assert (machine["protect_s"], machine["cover_losses"]) == (90.0, 3)
