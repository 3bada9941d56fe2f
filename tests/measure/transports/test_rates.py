"""Rates of transports: work by class, each against the others, seen over expected, and what the hours could show."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipeline.measure.figures import group_figures
from pipeline.measure.groups import group_keys, read_metrics
from pipeline.measure.matching import match_tickets
from pipeline.measure.service import service_times
from pipeline.measure.transports.duty import measure_duty
from pipeline.measure.transports.rates.ages import age_class, age_cuts, age_names
from pipeline.measure.transports.rates.judging import (
    class_rates,
    even_rates,
    judge_rates,
    judge_scatter,
    name_machines,
    standardise,
    what_shows,
)
from pipeline.measure.transports.rates.measuring import measure_rates
from pipeline.measure.transports.rates.work import (
    Work,
    gather_work,
    microseconds_by_part,
    place_events,
    read_work,
)
from pipeline.model import build_models
from pipeline.statistics import rate_ratio, rate_ratio_power
from pipeline.store import Store
from tests.model.room_tables import fill_store, open_memory
from tests.render.small_room import SETTINGS, open_room
from tests.second_reader.sites import Room

ZONE = ZoneInfo("Asia/Kathmandu")  # 5 h 45 min ahead all year: 12:15 UTC is 18:00 there
HOUR_US = 3_600_000_000


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"2031-03-09 {text}")


def log(when: str, machine: str, event: str, value: float | None = None, detail: str | None = None) -> dict[str, Any]:
    return {"at": at(when), "machine": machine, "event": event, "value": value, "detail": detail}


def booked(number: int, machine: str, role: str, reel: str) -> dict[str, Any]:
    return {
        "booking": f"B{number}", "transmission": "TX", "channel": "ONE", "machine": machine, "role": role,
        "reel": reel, "starts": at("11:45"), "ends": at("12:45"),
    }  # fmt: skip


def evening() -> Room:
    """An hour across 18:00 local. A2 falls out of lock for a while; as a precaution it is taken at 18:00 sharp."""
    ready = [row for name in ("A1", "A2") for row in (log("11:44", name, "roll"), log("11:44:04", name, "lock"))]
    return Room(
        settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
        events=(
            *ready, log("11:44:30", "A1", "offset", 0.01, "A2"), log("11:55", "A2", "unlock"),
            log("11:56", "A2", "lock"), log("11:57", "A1", "offset", 0.01, "A2"), log("13:00", "A2", "hours", 1.0),
        ),
        switches=(
            {"at": at("12:15"), "action": "take", "channel": "ONE", "from_machine": "A1", "to_machine": "A2",
             "reason": "precaution"},
        ),
        bookings=(booked(1, "A1", "air", "K1"), booked(2, "A2", "protect", "K9")),
        machines=({"machine": "A1", "pair": "P1"}, {"machine": "A2", "pair": "P1"}),
    )  # fmt: skip


def test_work_of_an_evening_by_class(store: Store) -> None:
    """A1 feeds half an hour to 18:00 and is left there: its event and its hours are of the afternoon. A2 feeds after.

    As protect A2 stands 11:45 to 11:55 and 11:57 to 12:15, 28 min, and loses cover once; then A1 stands behind it, half
    an hour. K1 was recorded eight days and some hours before, of K9 nothing is known.
    """
    fill_store(store, evening())
    store.run(
        "insert into raw_reels (file, line, reel, recorded_at_utc) values ('reels', 1, 'K1', '2031-03-01'),"
        " ('reels', 2, 'K9', null)"
    )
    build_models(store)
    air, protect = read_work(store, ZONE)
    assert air.machines == protect.machines == ("A1", "A2")
    assert (air.counts.tolist(), air.occasions.tolist()) == ([1, 0], [1, 0])
    assert protect.counts.tolist() == [0, 1]
    spent = {
        (work.measure, machine, *work.classes[place]): (round(float(hours) * 60, 6), int(count))
        for work in (air, protect)
        for machine, row, counts in zip(work.machines, work.class_hours, work.class_counts, strict=True)
        for place, (hours, count) in enumerate(zip(row, counts, strict=True))
        if hours
    }
    assert spent == {
        ("air", "A1", "any age", "12:00 to 18:00"): (30.0, 1),
        ("air", "A2", "not known", "18:00 to 24:00"): (30.0, 0),
        ("protect", "A1", "any age", "18:00 to 24:00"): (30.0, 0),
        ("protect", "A2", "not known", "12:00 to 18:00"): (28.0, 1),
    }


def test_hours_and_events_are_those_of_the_figures() -> None:
    with open_room() as opened:
        match_tickets(opened)
        metrics = read_metrics(opened, service_times(opened))
        machines = {key["machine"]: group_figures(metrics, key) for key in group_keys(opened)["machines"]}
        duty = measure_duty(opened, SETTINGS, {"machines": [{"machine": name} for name in machines]})
        rates = measure_rates(opened, SETTINGS, {"transports": {"duty": duty}})
    for found, count, seconds in zip(
        rates["measures"], ("protect_switches", "cover_losses"), ("air_s", "protect_s"), strict=True
    ):
        assert len(found["machines"]) > 1
        for row in found["machines"]:
            assert row["count"] == machines[row["machine"]][count]
            assert row["exposure_h"] * 3600 == pytest.approx(machines[row["machine"]][seconds], rel=1e-12)
        assert sum(row["count"] for row in found["machines"]) == sum(own[count] for own in machines.values()) > 0
    for row in duty["machines"]:
        assert row["air_h"] * 3600 == pytest.approx(machines[row["machine"]]["air_s"], rel=1e-12)


def test_a_room_without_a_row(store: Store) -> None:
    empty = Room(
        settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
        events=(), switches=(), bookings=(), machines=(),
    )  # fmt: skip
    fill_store(store, empty)
    build_models(store)
    duty = measure_duty(store, SETTINGS, {"machines": []})
    assert (duty["machines"], duty["span_h"]) == ([], None)
    rates = measure_rates(store, SETTINGS, {"transports": {"duty": duty}})
    assert (rates["tests_count"], rates["named"]) == (0, [])
    assert [measure["machines"] for measure in rates["measures"]] == [[], []]
    assert rates["measures"][0]["room"]["value"] is None
    json.dumps(rates, allow_nan=False)


def test_parts_of_a_day_through_a_change_of_the_clock() -> None:
    """In Stockholm 30 March 2031 has 23 hours: its night, 00:00 to 06:00, five. The day is 23:00 to 22:00 UTC."""
    day = pl.DataFrame(
        {"started_at_utc": [datetime.fromisoformat("2031-03-29 23:00")],
         "ended_at_utc": [datetime.fromisoformat("2031-03-30 22:00")]}
    )  # fmt: skip
    parts = microseconds_by_part(day, ZoneInfo("Europe/Stockholm"))
    assert (parts[0] / HOUR_US).tolist() == [5.0, 6.0, 6.0, 6.0]
    assert microseconds_by_part(day.clear(), ZONE).shape == (0, 4)


def days(*rows: tuple[str, int | None, int, float]) -> pl.DataFrame:
    return pl.DataFrame(
        [(machine, age, part, round(hours * HOUR_US)) for machine, age, part, hours in rows],
        schema={"machine": pl.String, "age_days": pl.Int64, "part": pl.Int64, "exposure_us": pl.Int64},
        orient="row",
    )


def test_ages_are_cut_by_hours_and_not_by_events() -> None:
    """10 h each at 1, 2, 3 and 40 days: a quarter lies up to day 1, a half up to 2, three quarters up to 3."""
    given = days(*((("A", age, 0, 10.0)) for age in (1, 2, 3, 40)), ("A", None, 0, 99.0))
    assert age_cuts(given) == [2, 3, 4]
    assert age_names([2, 3, 40]) == ["under 2 days", "2 days", "3 to 39 days", "40 days and over"]
    assert [age_class(age, [2, 3, 40]) for age in (1, 2, 39, 40, None)] == [
        "under 2 days", "2 days", "3 to 39 days", "40 days and over", "not known",
    ]  # fmt: skip
    # All alike, or none known: one class.
    assert age_cuts(days(("A", 7, 0, 1.0))) == []
    assert age_class(7, []) == "any age"
    assert age_cuts(days(("A", None, 0, 1.0))) == []


def test_an_event_that_ends_no_stretch_is_in_no_class() -> None:
    stretches = pl.DataFrame(
        {"channel": ["ONE"], "machine": ["A"], "started_at_utc": [at("10:00")], "ended_at_utc": [at("11:00")],
         "age_days": [3]}
    )  # fmt: skip
    events = pl.DataFrame(
        {"channel": ["ONE"] * 3, "machine": ["A"] * 3, "at_utc": [at("10:00"), at("11:00"), at("11:30")],
         "occasion": ["1", "1", "2"]}
    )  # fmt: skip
    placed = place_events(events, stretches, ZoneInfo("UTC"))
    assert placed["part"].to_list() == [None, 1, None]
    work = gather_work("air", days(("A", 3, 1, 1.0)), placed, [])
    assert (work.counts.tolist(), work.class_counts.sum(), work.occasions.tolist()) == ([3], 1, [2])
    assert standardise(work, 0)["placed_count"] == 1


def one_class(measure: str, counts: list[int], hours: list[float], occasions: list[int] | None = None) -> Work:
    names = tuple(f"T{number}" for number in range(1, len(counts) + 1))
    column = np.array(hours, dtype=float)[:, None]
    return Work(
        measure, names, np.array(counts), np.array(occasions or counts), np.array(hours, dtype=float),
        np.array(counts)[:, None], column, (("any age", "00:00 to 06:00"),),
    )  # fmt: skip


def test_each_against_the_others_adjusted_over_both_duties() -> None:
    """A published pair (R 4.2, poisson.test: 11 in 800 against 21 in 3,011, ratio 1.971488; twice the smaller tail
    0.1120173) and a clear difference on the other duty: four tests, two and two alike."""
    air, protect = one_class("air", [11, 21], [800.0, 3011.0]), one_class("protect", [30, 10], [100.0, 100.0])
    rows = name_machines([air, protect])
    assert rows[0][0]["ratio"] == pytest.approx(1.971488, abs=5e-7)
    assert (rows[0][0]["low"], rows[0][0]["high"]) == (
        pytest.approx(0.8584264, abs=5e-8),
        pytest.approx(4.277266, abs=5e-7),
    )
    assert rows[0][0]["p"] == pytest.approx(0.1120173, abs=5e-8)
    p = 2 * stats.binom(40, 0.5).sf(29)
    # Sorted: p, p, 0.112, 0.112. Benjamini and Hochberg: p · 4/2, and 0.112 · 4/4.
    assert [row["adjusted_p"] for row in rows[1]] == pytest.approx([2 * p, 2 * p])
    assert [row["adjusted_p"] for row in rows[0]] == pytest.approx([0.1120173, 0.1120173], abs=5e-8)
    assert [row["is_named"] for own in rows for row in own] == [False, False, True, True]


def test_many_events_of_one_incident_name_nobody() -> None:
    """30 events against 10 in like hours are clear, but as 2 incidents against 2 they say nothing."""
    rows = name_machines([one_class("air", [30, 10], [100.0, 100.0], [2, 2])])[0]
    assert rows[0]["adjusted_p"] < 0.05
    assert rows[0]["occasions_adjusted_p"] == 1.0
    assert not rows[0]["is_named"]


def test_what_cannot_be_tested_is_no_test() -> None:
    rows = name_machines([one_class("air", [3], [10.0]), one_class("protect", [0, 0], [10.0, 10.0])])
    assert [row["p"] for own in rows for row in own] == [None] * 3
    found = judge_rates([one_class("air", [3], [10.0]), one_class("protect", [0, 0], [10.0, 10.0])], {}, 100.0)
    assert (found["tests_count"], found["named"]) == (0, [])
    assert found["measures"][1]["machines"][0]["evened"] is None
    assert found["measures"][1]["machines"][0]["detectable_ratio"] is None


def test_seen_over_expected_by_class() -> None:
    """T1 has all its 100 h in the hard class: 8 of the room's 10 events there in 200 h, 5 expected; crude, of 12 events
    in 400 h, it would be 3."""
    hours, counts = np.array([[100.0, 0.0], [100.0, 200.0]]), np.array([[8, 0], [2, 2]])
    classes = (("hard", "00:00 to 06:00"), ("easy", "00:00 to 06:00"))
    work = Work("air", ("T1", "T2"), counts.sum(axis=1), counts.sum(axis=1), hours.sum(axis=1), counts, hours, classes)
    found = standardise(work, 0)
    assert (found["placed_count"], found["expected"]) == (8, pytest.approx(5.0))
    assert found["standardised"]["value"] == pytest.approx(1.6)
    # One class with events of both: Clopper and Pearson's limits of 8 of 10, over the share of one half.
    limits = stats.binomtest(8, 10).proportion_ci(0.95, "exact")
    assert [found["standardised"]["low"], found["standardised"]["high"]] == pytest.approx(
        [2 * limits.low, 2 * limits.high]
    )
    assert sum(standardise(work, place)["expected"] for place in range(2)) == pytest.approx(12.0)
    rates = class_rates(work)
    assert [(row["class"], row["count"], row["exposure_h"], row["value"]) for row in rates["ages"]] == [
        ("hard", 10, 200.0, 50.0), ("easy", 2, 200.0, 10.0),
    ]  # fmt: skip
    assert [row["class"] for row in rates["parts"]] == ["00:00 to 06:00"]
    assert rates["parts"][0]["count"] == 12


def test_rates_to_expect_of_the_pumps() -> None:
    """Gaver and O'Muircheartaigh's pumps (1987). BUGS Examples I, with weak priors of its own, prints full Bayes means
    (here by way of Mamba.jl's documentation): pump 1 0.0599; other weak priors move it by some per cent. Pump 10 is the
    worst with probability 0.683 where the likeliest spread is taken as known; near that here."""
    counts = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
    hours = [94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]
    found = even_rates(one_class("air", counts, hours))
    assert found["T1"]["evened"]["value"] / 1000 == pytest.approx(0.0599, rel=0.06)
    # Pump 2 has 1 in 15.7 and is drawn from that towards the 75 in 350.24 of all.
    assert 1 / 15.7 < found["T2"]["evened"]["value"] / 1000 < 75 / 350.24
    assert found["T1"]["evened"]["low"] < 59.9 < found["T1"]["evened"]["high"]
    assert found["T10"]["worst_ratio"] == pytest.approx(0.683, abs=0.05)
    assert sum(row["worst_ratio"] for row in found.values()) == pytest.approx(1.0)


def test_like_machines_are_as_likely_to_be_the_worst() -> None:
    found = even_rates(one_class("air", [5, 5, 5, 5], [100.0] * 4))
    assert [row["worst_ratio"] for row in found.values()] == pytest.approx([0.25] * 4)
    assert [row["evened"]["value"] for row in found.values()] == pytest.approx([50.0] * 4, rel=1e-3)


def test_of_many_machines_those_with_most_hours_are_worked_out() -> None:
    found = judge_rates([one_class("air", [1] * 70, [float(hour) for hour in range(1, 71)])], {}, 730.5)
    (measure,) = found["measures"]
    assert measure["room"]["detailed_count"] == 60
    assert [row["evened"] is None for row in measure["machines"]] == [True] * 10 + [False] * 60
    assert [row["detectable_ratio"] is None for row in measure["machines"]] == [True] * 10 + [False] * 60
    assert measure["room"]["equal_ratio"] == 1 / 60


def test_what_the_hours_could_show() -> None:
    """Two like machines: at the ratio given, twice 100 h and 10 events of the other have a power of 0.8."""
    shown = what_shows(one_class("air", [4, 10], [100.0, 100.0]), 0, level=0.05, span_h=730.5)
    power = rate_ratio_power(shown["detectable_ratio"], 100.0, 100.0, 0.1, level=0.05)
    assert power == pytest.approx(0.8, abs=1e-6)
    # These hours took one month; with so many more of them twice the rate is found with the same chance.
    times = 1 + shown["more_months"]
    assert rate_ratio_power(2.0, 100.0 * times, 100.0 * times, 0.1, level=0.05) >= 0.8
    assert rate_ratio_power(2.0, 95.0 * times, 95.0 * times, 0.1, level=0.05) < 0.8
    # No event of the others: nothing can be said.
    assert what_shows(one_class("air", [4, 0], [100.0, 100.0]), 0, level=0.05, span_h=1.0)["detectable_ratio"] is None
    # Plenty of hours: none more.
    assert what_shows(one_class("air", [500, 500], [5e3, 5e3]), 0, level=0.05, span_h=1.0)["more_months"] == 0.0


def test_scatter_of_months() -> None:
    """T1: 3 and 0 in two like months (index 3, see the test of the dispersion); a month without hours is none."""
    rows = [
        {"machine": "T1", "month": "2031-02", "count": 3, "hours": 10.0},
        {"machine": "T1", "month": "2031-03", "count": 0, "hours": 10.0},
        {"machine": "T2", "month": "2031-03", "count": 0, "hours": 0.0},
    ]
    found = judge_scatter(rows)
    assert (found["months_count"], found["index"]) == (2, pytest.approx(3.0))
    assert judge_scatter([]) == {"months_count": 0, "index": None, "p": None}


def test_rates_and_incidents_stand_beside_each_other() -> None:
    found = judge_rates([one_class("air", [3, 5], [600.0, 400.0], [2, 5])], {}, 730.5)
    first = found["measures"][0]["machines"][0]
    # 3 in 600 h: 5 per 1,000 h, limits by the chi-square form of Garwood.
    limits = (stats.chi2.ppf(0.025, 6) / 2 / 0.6, stats.chi2.ppf(0.975, 8) / 2 / 0.6)
    assert [first["value"], first["low"], first["high"]] == pytest.approx([5.0, *limits])
    assert (first["count"], first["incidents_count"]) == (3, 2)
    assert found["test_level"] == 0.05 / 2
    expected = rate_ratio(3, 600.0, 5, 400.0)
    assert [first["ratio"], first["ratio_low"], first["ratio_high"], first["p"]] == pytest.approx(list(expected))
    assert found["measures"][0]["room"]["value"] == 8.0
