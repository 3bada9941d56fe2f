"""The pictures of a month's sheet: which months are shown, what the strip marks, what stands beside them in words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import pytest

from pipeline.render.comparisons import compare_months
from pipeline.render.month_events import Day, EventRow, event_rows, kinds_of
from pipeline.render.month_quality import month_of, month_quality
from pipeline.render.month_remedies import did, power_words, quiet_words
from pipeline.render.month_run import months_run, shown_months
from pipeline.render.month_sheet import CAUSES_AT_MOST, few_causes
from pipeline.render.month_strip import ROWS_AT_MOST, events_strip
from pipeline.render.reading import Reading

PART = {"recovery_no": 1, "kind": None, "is_healed": False, "is_demand": True, "is_met": False}


@pytest.mark.parametrize(
    ("count", "place", "first", "last"),
    [(26, 25, 2, 25), (26, 12, 0, 12), (26, 0, 0, 12), (3, 1, 0, 2), (40, 30, 7, 30), (1, 0, 0, 0)],
)
def test_up_to_24_months_end_with_the_pages_own(count: int, place: int, first: int, last: int) -> None:
    """13 at least where they exist: of an early month later ones are shown too."""
    shown = shown_months(count, place)
    assert (shown[0], shown[-1]) == (first, last)


def month(name: str, switches: int, air_h: float = 100.0) -> dict[str, Any]:
    rate = {"value": 10.0 * switches, "low": 1.0, "high": 300.0}
    return {
        "month": name, "protect_switches": switches, "air_s": air_h * 3600, "lost_s": 12.0, "demands": 0,
        "demands_met": 0, "protect_switches_per_1000_air_h": rate,
    }  # fmt: skip


def test_the_run_says_whether_the_month_stands_out() -> None:
    months = [month(f"2030-{number:02}", 4) for number in range(1, 13)] + [month("2031-01", 19)]
    compared = compare_months(months)
    figure = months_run(months, 12, compared[12], "run")
    # 48 in 1,200 h before: about 4 are expected in 100 h, and 19 lie outside whatever the limits are.
    assert "its 19 lie outside." in figure.says
    assert "the twelve months before" in figure.caption
    assert "all its other months" in months_run(months, 3, compared[3], "run").caption
    assert len(figure.svg.encode()) < 25_000
    assert figure == months_run(months, 12, compared[12], "run")


@pytest.mark.parametrize(
    ("part", "kinds"),
    [
        ({"kind": "forced", "is_met": True}, ("forced",)),
        ({"kind": "forced"}, ("forced", "failed")),
        ({"is_healed": True}, ("healed",)),
        ({"is_demand": False}, ("other",)),
        ({"kind": "return", "is_met": True}, ("other",)),
        ({"kind": "precaution", "is_demand": None}, ("precaution",)),
        ({"recovery_no": None}, ("failed",)),
    ],
)
def test_what_a_part_is_marked_as(part: Mapping[str, Any], kinds: tuple[str, ...]) -> None:
    assert kinds_of({**PART, **part}) == kinds


def test_events_stand_by_pair_and_day(reading: Reading) -> None:
    parts = [part for part in reading.parts if part["month"] == "2031-03"]
    rows = event_rows(reading, "2031-03", parts)
    one = next(row for row in rows if row.name.startswith("T1"))
    # Channel One was on air on 3 March only, with a switch as a precaution: 31 days, one with air, none not known.
    assert (len(one.days), one.air_days, one.unknown_days) == (31, 1, 0)
    assert one.days[date(2031, 3, 3)].kinds == {"precaution": 1}
    other = [row for row in rows if row is not one and row.has_air]
    # Channel Two: T3 on 9 March for 45 min, and half an hour on the 20th of which no log tells.
    assert sum(row.air_days for row in other) == 2
    assert sum(row.unknown_s for row in other) == 1800.0
    strip = events_strip(rows, "2031-03")
    assert "<img" not in strip.svg
    assert "no event" not in strip.says.split(".")[1]


def row(name: str, events: int, days: int = 30) -> EventRow:
    dates = [date(2031, 4, 1) + timedelta(days=number) for number in range(days)]
    return EventRow(
        name, {day: Day(3600.0, 0.0, {"forced": events} if day == dates[2] else {}, False) for day in dates}
    )


def test_many_events_of_a_day_are_counted_and_not_lost() -> None:
    svg = events_strip([row("A", 9)], "2031-04").svg
    assert svg.count('href="#mark-forced"') == 3
    assert ">+6</text>" in svg
    assert events_strip([row("A", 4)], "2031-04").svg.count('href="#mark-forced"') == 4


def test_a_strip_is_bounded_and_says_what_it_left_out() -> None:
    rows = [row(f"P{number:02}", number) for number in range(40)]
    strip = events_strip(rows, "2031-04")
    names = re.findall(r">(P\d\d)<", strip.svg)
    assert names == [f"P{number}" for number in range(40 - ROWS_AT_MOST, 40)]
    assert f"Drawn are the {ROWS_AT_MOST} rows with most events of 40." in strip.caption


def test_a_day_without_air_and_a_silent_one_are_no_calm_days() -> None:
    days = {
        date(2031, 4, 1): Day(0.0, 0.0, {}, False),
        date(2031, 4, 2): Day(60.0, 60.0, {}, False),
        date(2031, 4, 3): Day(0.0, 0.0, {}, True),
    }
    svg = events_strip([EventRow("A", days)], "2031-04").svg
    assert svg.count('fill="url(#day-off)"') == 1
    assert svg.count('fill="url(#hatch-not-known)"') == 1
    assert "the logs silent in 1 day" in events_strip([EventRow("A", days)], "2031-04").says


def test_the_rest_of_the_causes_is_summed_and_the_unknown_keeps_its_place() -> None:
    causes = [{"top": f"c{number}", "second": "", "count": 20 - number, "lost_s": 1.0} for number in range(10)]
    causes.append({"top": "unknown", "second": "not looked at", "count": 1, "lost_s": 2.0})
    few = few_causes(causes)
    assert len(few) == CAUSES_AT_MOST
    assert few[-2]["top"] == "unknown"
    # Left are c6 to c9: 14 + 13 + 12 + 11 events.
    assert (few[-1]["top"], few[-1]["count"], few[-1]["lost_s"]) == ("4 other causes", 50, 4.0)
    assert few_causes(causes[:3]) == causes[:3]


def test_what_the_month_rests_on(reading: Reading) -> None:
    quality = month_quality(reading, "2031-03")
    assert {check["check_id"] for check in quality["failed"]} == {"takes_fit", "files_whole"}
    # T1 alone has a clock with pairs; it and T2, T3 and the silent one fed air in March.
    assert "T1" not in quality["no_clock"]
    assert "T3" in quality["no_clock"]
    months = reading.site["site_months"]
    assert month_of(months, months[0]["started_at_utc"]) == "2031-02"
    assert month_of(months, months[1]["ended_at_utc"]) == ""


def test_remedies_in_words() -> None:
    assert did({"action": "head  clogged,\ncleaned", "part": None}) == "head clogged, cleaned"
    assert did({"action": None, "part": "fuse"}) == "fuse"
    assert len(did({"action": "cleaned " * 30, "part": None})) <= 60
    counted: dict[str, Any] = {"quiet_h": 100.0, "since": 0, "half_power": 0.004}
    assert quiet_words(counted, 30 * 3600.0) == "70.0 h more"
    assert quiet_words(counted, 101 * 3600.0) == "now"
    assert quiet_words({**counted, "since": 1}, 0.0) == "there was one since"
    assert quiet_words({**counted, "quiet_h": None}, 0.0) == "never: there was none before"
    assert quiet_words({**counted, "quiet_h": 90_000.0}, 0.0) == "over ten years of air"
    assert power_words(counted) == "under 1 %"
    assert power_words({"half_power": 0.25}) == "25 %"
