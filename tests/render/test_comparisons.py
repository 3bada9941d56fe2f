"""Comparisons against closed forms and another library."""

from __future__ import annotations

import pytest
from scipy import stats

from pipeline.render.comparisons import (
    compare_months,
    compare_rates,
    compare_transports,
    demands_met,
    expected_count,
    worst_by_luck,
)
from pipeline.render.sheet import year_before


def group(switches: int, air_h: float, **more: object) -> dict[str, object]:
    return {"protect_switches": switches, "air_s": air_h * 3600, "demands": 0, "demands_met": 0, **more}


def test_the_worst_of_eight_equal_machines() -> None:
    # P(X <= 5) for a Poisson mean of 3 is 0.9161 in printed Poisson tables; eight machines: 1 − 0.9161^8 = 0.504.
    assert worst_by_luck(6, 3.0, [1.0] * 8) == pytest.approx(1 - 0.9161**8, abs=2e-4)
    assert worst_by_luck(0, 3.0, [1.0]) is None


def test_a_rate_against_the_others_together() -> None:
    # 9 in 300 h against 4 + 2 in 500 h + 100 h: rates 30 and 10 per 1,000 h, so 3 times as high.
    row = compare_rates(group(9, 300), [group(4, 500), group(2, 100)])
    assert row is not None
    assert (row["count"], row["value"], row["ratio"]) == (6, pytest.approx(10.0), pytest.approx(3.0))
    # Given 15 in all, the count is binomial with share q = 300 r / (300 r + 600) at a ratio r: scipy's exact limits.
    limits = stats.binomtest(9, 15).proportion_ci(0.95, "exact")
    assert row["low"] == pytest.approx(limits.low / (1 - limits.low) * 600 / 300)
    assert row["high"] == pytest.approx(limits.high / (1 - limits.high) * 600 / 300)


def test_without_air_there_is_nothing_to_compare() -> None:
    assert compare_rates(group(0, 0), [group(3, 100)]) is None
    assert compare_rates(group(3, 100), []) is None


def test_no_event_anywhere_has_no_ratio() -> None:
    row = compare_rates(group(0, 100), [group(0, 100)])
    assert row is not None
    assert (row["ratio"], row["high"], row["p"]) == (None, None, 1.0)


def test_months_are_adjusted_for_their_number() -> None:
    months = [group(count, 100, month=f"2031-0{number}") for number, count in enumerate((2, 9, 3, 12), 1)]
    rows = compare_months(months)
    adjusted = stats.false_discovery_control([row["others"]["p"] for row in rows], method="bh")
    assert [row["others"]["adjusted_p"] for row in rows] == pytest.approx(list(adjusted))
    assert rows[0]["before"] is None
    assert rows[1]["before"]["count"] == 2


def test_a_month_is_held_against_the_twelve_before_where_there_are_so_many() -> None:
    # Months of 100 h with 1, 2 ... 14 switches from January 2030 on. February 2031 has 14; the twelve before 2 to 13.
    names = [f"2030-{number:02}" for number in range(1, 13)] + ["2031-01", "2031-02"]
    rows = compare_months([group(count, 100, month=name) for count, name in enumerate(names, 1)])
    assert [row["past"] is None for row in rows] == [True] * 12 + [False] * 2
    assert rows[13]["past"]["count"] == sum(range(2, 14))
    assert rows[13]["past"]["ratio"] == pytest.approx(14 / (90 / 12))
    assert rows[13]["year_before"]["count"] == 2  # February 2030
    assert rows[11]["year_before"] is None
    adjusted = stats.false_discovery_control([row["past"]["p"] for row in rows[12:]], method="bh")
    assert [row["past"]["adjusted_p"] for row in rows[12:]] == pytest.approx(list(adjusted))


def test_what_chance_puts_in_a_month() -> None:
    # 20 in 1,000 h before, 200 h now: y given the sum is binomial with share 200 / 1,200. High is the largest y with
    # P(Y >= y | 20 + y) > 0.025, low the least with P(Y <= y) > 0.025: another library's binomial, count by count.
    base = compare_rates(group(4, 200), [group(20, 1000)])
    found = expected_count(group(4, 200), base)
    inside = [
        y
        for y in range(40)
        if stats.binom.sf(y - 1, 20 + y, 1 / 6) > 0.025 and stats.binom.cdf(y, 20 + y, 1 / 6) > 0.025
    ]
    assert found == {"low": inside[0], "high": inside[-1]}
    assert expected_count(group(0, 0), None) is None


def test_the_same_month_of_the_year_before() -> None:
    assert year_before("2031-03") == "2030-03"
    assert year_before("1000-01") == "0999-01"


def test_share_of_demands_met() -> None:
    limits = stats.binomtest(5, 7).proportion_ci(0.95, "exact")
    met = demands_met({"demands": 7, "demands_met": 5})
    assert (met["ratio"], met["low"], met["high"]) == pytest.approx((5 / 7, limits.low, limits.high))
    assert demands_met({"demands": 0, "demands_met": 0})["ratio"] is None


def test_equal_transports_are_evened_to_the_rooms_rate() -> None:
    machines = [group(4, 100, machine=f"T{number}") for number in range(4)] + [group(0, 0, machine="spare")]
    compared = compare_transports(machines)
    assert "spare" not in compared["machines"]
    # No spread between them: every evened rate is 16 in 400 h = 40 per 1,000 h.
    assert [row["evened"]["value"] for row in compared["machines"].values()] == pytest.approx([40.0] * 4)
    assert compared["shape"] is None


def test_no_transport_flew() -> None:
    assert compare_transports([group(0, 0, machine="T1")])["machines"] == {}
