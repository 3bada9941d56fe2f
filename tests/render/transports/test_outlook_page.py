"""The page on the year ahead: sentences that keep to what was found, bounded tables and charts, and empty rooms."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.measure.transports.outlook.measuring import judge_outlook
from pipeline.measure.transports.outlook.reading import Material, Sign, Watch
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.render.filling import fill, page_environment
from pipeline.render.reading import Reading
from pipeline.render.transports.outlook_charts import BARS_AT_MOST, LINES_AT_MOST, age_curve, most_hours, year_bars
from pipeline.render.transports.outlook_page import MOST_ROWS, carried, minutes, outlook_context, outlook_sheets, signed
from pipeline.render.transports.outlook_words import answers, rough, tried
from tests.render.small_room import HOSTILE_MACHINE


def watch(machine: str, events: Any, end_h: float = 100.0, **more: Any) -> Watch:
    weeks = np.full(10, end_h / 10)
    given = {"cut_h": end_h * 2 / 3, "watched_h": HOURS_A_YEAR / 2, "week_no": np.arange(10), "week_h": weeks, **more}
    return Watch(machine, np.asarray(events, dtype=float), end_h, **given)


def found(*watches: Watch, span_h: float = HOURS_A_YEAR / 2, **more: Any) -> dict[str, Any]:
    weeks = tuple(f"2031-03-{day:02d}" for day in range(1, 11))
    losses = np.array([0.0, 1.0, 2.0, 4.0, 8.0]) if any(one.events_h.size for one in watches) else np.zeros(0)
    return judge_outlook(Material(watches, losses, span_h, span_h / 36, weeks, **more))


def quiet_room(machines: int = 3) -> dict[str, Any]:
    return found(*(watch(f"T{number}", [10, 35, 60, 85]) for number in range(machines)))


def page(reading: Reading, part: dict[str, Any]) -> str:
    full = replace(reading, figures={**reading.figures, "transports": {"outlook": part}})
    (sheet,) = outlook_sheets(full)
    return fill(page_environment(full), sheet).replace("\u00a0", " ")


def test_a_quiet_room_is_not_called_good() -> None:
    told = answers(quiet_room())
    # Two trend tests each of three machines and of the room: eight.
    assert told[0] == (
        "No machine is seen to get worse with its hours in this record of 183 days: of 8 tests of trends and of "
        "leading signs none stands out, and no running sum of protect switches has alarmed."
    )
    # 300 h in half a year are 600 h a year, so twice the 12 switches.
    assert "600 h on air a year, and nothing changes, expect about 24 protect switches" in told[1]
    assert "The largest single loss with a switch so far was 8 s" in told[1]
    assert "good" not in " ".join(told)
    # 0.15 switches a week, and 8 lie between nought and an alarm at twice that: half a year, 26 weeks, is too short.
    assert told[-1].endswith("weeks on average, longer than this record.")
    long = found(*(watch(f"T{number}", [10, 35, 60, 85]) for number in range(3)), span_h=20 * HOURS_A_YEAR)
    assert answers(long)[-1].endswith("weeks on average.")


def test_numbers_are_spoken_roundly() -> None:
    spoken = [rough(value) for value in (0.0, 0.52, 2.34, 4.81, 9.01, 28.02, 272.3, 2923.0)]
    assert spoken == ["0", "0.52", "2.3", "five", "nine", "28", "270", "2,900"]
    # Twice the 12 switches, at (0 + 1 + 2 + 4 + 8) / 5 = 3 s each: 72 s, under two minutes, so in seconds.
    assert "and about 72 seconds of air lost (" in answers(quiet_room())[1]


def test_a_worn_machine_is_named_with_its_reason() -> None:
    worn = watch("T1", 100 * ((np.arange(40) + 0.5) / 40) ** 0.2)
    told = answers(found(worn, watch("T2", np.linspace(1, 99, 40)), watch("T3", np.linspace(1, 99, 40))))
    assert told[0].startswith(
        "T1 stands out: it switches to protect more and more often as its hours add up (adjusted p"
    )
    assert "exponent 5." in told[0]
    assert "(with the rate of T1 taken as steady too, which it is not)" in told[2]


def test_an_alarm_and_a_creeping_sign_are_told() -> None:
    days = np.arange(30.0)
    sign = Sign("T1", "lock", days, 3.0 + days / 100, 30, by_week=False)
    burst = watch("T1", np.linspace(51, 59, 30))
    told = answers(found(burst, *(watch(f"T{n}", [10, 50]) for n in range(2, 8)), signs=(sign,)))[0]
    assert "set off the running sum in the week of 2031-03-06" in told
    assert "in all but 2.5 % of records" in told
    assert "has a time to lock that rises (adjusted p below 0.001)" in told


def test_a_short_record_and_an_empty_one() -> None:
    assert answers(found()) == ["No machine has fed air in these data, so there is nothing to look ahead from."]
    short = answers(found(watch("T1", [1, 2]), span_h=240.0))
    assert short[1].startswith("No forecast is made: the record spans 10 days")
    assert "cannot be told from a steady one" in short[-1]
    retired = answers(found(watch("T1", [1, 2], is_retired=True)))
    assert "every machine that fed air is retired" in retired[1]


def test_the_replay_is_told_either_way() -> None:
    row = {"machine": "T1", "low": 0, "high": 5, "came_count": 6, "is_inside": False}
    room = {"low": 0, "high": 5, "came_count": 6, "is_inside": False}
    told = tried({"machines": [row], "inside_count": 0, "confidence": 0.95, "room": room})
    assert "of one machine no fell inside" not in told
    assert "of one machine none fell inside the limits, where at least 0.95 are expected" in told
    assert "the room's 6 protect switches were outside the limits of 0 to 5" in told
    three = tried({"machines": [row] * 3, "inside_count": 3, "confidence": 0.95, "room": room})
    assert "of three machines three fell inside the limits, where at least 2.85 are expected" in three
    assert "could not be tried" in tried({"machines": [], "inside_count": 0, "confidence": 0.95, "room": None})


def test_small_words() -> None:
    assert [signed(value) for value in (0.0226, -0.03, 0.0004, -0.0004)] == ["+0.023", "−0.030", "0", "0"]
    row = {"carried_on": {"low": 6, "high": 103}, "switches": {"high": 85}}
    assert carried(row) == "6 to 103"
    assert carried({**row, "carried_on": {"low": 26, "high": 5000}}) == "26 or more"
    assert carried({**row, "carried_on": None}) == "n/a"
    assert minutes({"mean": 300.0, "low": 60.0, "high": 600.0}) == "5.00 (1.00 to 10.0)"
    assert minutes({"mean": None, "low": None, "high": None}) == "n/a"


def test_many_machines_are_left_out_by_hours_and_counted() -> None:
    machines = MOST_ROWS + 15
    part = found(*(watch(f"T{n:03d}", [10, 30, 60], 100.0 + n) for n in range(machines)))
    context = outlook_context(part)
    assert (len(context["rows"]), context["left_out"]) == (MOST_ROWS, 15)
    # Those with most hours, here the last, in the order of their names.
    assert context["rows"][0]["machine"] == "T015"
    assert "Drawn one by one are those with most hours" in context["curve"].caption
    assert f"{machines - LINES_AT_MOST} more are not" in age_curve(part["room"]["curve"], part["machines"], "a").caption
    assert f"{machines - BARS_AT_MOST} more are not" in year_bars(part["machines"], "b").caption
    assert most_hours(part["machines"][:3], 5) == part["machines"][:3]


def test_charts_say_their_numbers() -> None:
    part = quiet_room(2)
    assert "T0: 4 switches in 100 h" in age_curve(part["room"]["curve"], part["machines"], "a").says
    switches = part["machines"][0]["switches"]
    assert f"T0: 8.00, {switches['low']} to {switches['high']}" in year_bars(part["machines"], "b").says


def test_one_machine_has_a_curve_without_limits() -> None:
    assert "<path" in str(outlook_context(quiet_room(1))["curve"].svg)


@pytest.mark.parametrize("part", [found(), found(watch("T1", [])), quiet_room(), found(watch("T1", [1]), span_h=240.0)])
def test_every_room_gets_its_page(reading: Reading, part: dict[str, Any]) -> None:
    html = page(reading, part)
    assert "<h1>The year ahead</h1>" in html
    assert "What this page cannot say" in html
    assert "None" not in html.split("</style>")[-1]


def test_a_page_with_everything(reading: Reading) -> None:
    days = np.arange(30.0)
    signs = (Sign("T1", "lock", days, 3.0 + days / 100, 30, by_week=False),)
    html = page(reading, found(watch("T1", [10, 20, 60, 90]), watch("T2", [5]), signs=signs, without_lock=("T2",)))
    assert "+0.300 (+0.300 to +0.300)" in html
    assert "The time to lock of T2: no lock is logged." in html
    assert 'id="replay"' in html
    assert "4 s needs service" not in html


def test_names_cannot_break_the_page(reading: Reading) -> None:
    assert HOSTILE_MACHINE not in page(reading, found(watch(HOSTILE_MACHINE, [10, 20, 60, 90])))
