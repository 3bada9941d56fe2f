"""Broadcast months and days, worked by hand from the European rule for summer time (Directive 2000/84/EC).

The months of the broadcast calendar are held against published ones: the dates that a library of that calendar tests
itself by, and the years of 53 weeks that an encyclopaedia lists.
"""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.calendar import broadcast_day, day_start, month_of, months_between
from pipeline.settings import THRESHOLDS, Settings, read_settings

SETTINGS = Settings("Room", "Europe/Stockholm", "06:00", 25.0, sync_tolerance_s=0.04, **THRESHOLDS)
BROADCAST = replace(SETTINGS, months="broadcast")
# A day, and the first and last day of the broadcast month that holds it: tests/calendar.test.ts of the repository
# ViacomInc/broadcast-calendar, commit 7c840a3 (https://github.com/ViacomInc/broadcast-calendar).
PUBLISHED = (
    ("2017-12-31", "2017-12", "2017-11-27", "2017-12-31"), ("2018-12-31", "2019-01", "2018-12-31", "2019-01-27"),
    ("2019-03-31", "2019-03", "2019-02-25", "2019-03-31"), ("2019-04-01", "2019-04", "2019-04-01", "2019-04-28"),
    ("2019-06-30", "2019-06", "2019-05-27", "2019-06-30"), ("2019-07-01", "2019-07", "2019-07-01", "2019-07-28"),
    ("2019-09-29", "2019-09", "2019-08-26", "2019-09-29"), ("2019-09-30", "2019-10", "2019-09-30", "2019-10-27"),
    ("2019-12-29", "2019-12", "2019-11-25", "2019-12-29"), ("2019-12-30", "2020-01", "2019-12-30", "2020-01-26"),
    ("2020-04-30", "2020-05", "2020-04-27", "2020-05-31"), ("2021-12-31", "2022-01", "2021-12-27", "2022-01-30"),
    ("2025-01-01", "2025-01", "2024-12-30", "2025-01-26"),
)  # fmt: skip
# The same place: a day of 2024 and the number of its month.
PUBLISHED_MONTHS = {
    "2024-01-01": 1, "2024-01-30": 2, "2024-01-31": 2, "2024-03-31": 3, "2024-04-01": 4, "2024-04-28": 4,
    "2024-04-29": 5, "2024-04-30": 5, "2024-11-25": 12, "2024-11-30": 12, "2024-12-01": 12, "2024-12-31": 1,
}  # fmt: skip
# Years of 53 weeks, of those from 2001 to 2050: Wikipedia, "Broadcast calendar".
LONG_YEARS = {2006, 2012, 2017, 2023, 2028, 2034, 2040, 2045}
BOOKING = "booking,transmission,channel,machine,role,starts,ends\nB1,X1,One,VT1,air,{},{}\n"


def _settings(site, zone: str = "Europe/Stockholm", day_starts: str = "06:00"):
    site.settings(zone, day_starts)
    return read_settings(site.folder)


def _load(site, starts: str, ends: str, day_starts: str = "06:00", zone: str = "Europe/Stockholm") -> None:
    site.settings(zone, day_starts)
    site.write("bookings.csv", BOOKING.format(starts, ends))
    site.load()


def test_months_of_a_broadcast_day_that_starts_at_six(site) -> None:
    # 1 April 05:00 local is still 31 March of the broadcast day; the booking runs on past 06:00, into April.
    _load(site, "2031-04-01T05:00", "2031-04-01T07:00")
    assert [tuple(row.values()) for row in site.rows("select * from site_months order by month")] == [
        # 1 March 06:00 is CET (+1): 05:00 UTC. 1 April and 1 May 06:00 are CEST (+2): 04:00 UTC.
        ("2031-03", datetime(2031, 3, 1, 5), datetime(2031, 4, 1, 4)),
        ("2031-04", datetime(2031, 4, 1, 4), datetime(2031, 5, 1, 4)),
    ]


def test_an_end_on_the_boundary_opens_no_further_month(site) -> None:
    _load(site, "2031-03-31T20:00", "2031-04-01T06:00")
    assert [row["month"] for row in site.rows("select month from site_months")] == ["2031-03"]


@pytest.mark.parametrize(
    ("day_starts", "short", "long"),
    [("00:00", date(2031, 3, 30), date(2031, 10, 26)), ("06:00", date(2031, 3, 29), date(2031, 10, 25))],
)
def test_days_have_23_and_25_hours_where_clocks_change(site, day_starts: str, short: date, long: date) -> None:
    # Clocks change at 02:00 on 30 March and 03:00 on 26 October; with days from 06:00 that is late in the day before.
    _load(site, "2031-01-01T12:00", "2031-12-31T12:00", day_starts)
    days = site.rows("select day, started_at_utc, ended_at_utc from site_days order by day")
    lengths = {row["day"]: row["ended_at_utc"] - row["started_at_utc"] for row in days}
    odd = {day: length for day, length in lengths.items() if length != timedelta(hours=24)}
    assert odd == {short: timedelta(hours=23), long: timedelta(hours=25)}
    assert len(days) == 365


def test_days_and_months_follow_each_other_without_gaps(site) -> None:
    _load(site, "2031-01-15T12:00", "2032-12-31T12:00", "02:30")
    for table in ("site_days", "site_months"):
        gaps = f"select started_at_utc, lag(ended_at_utc) over (order by started_at_utc) as before from {table}"
        assert site.rows(f"select * from ({gaps}) where before <> started_at_utc") == []
    assert site.rows("select month from site_days group by month having count(*) not between 28 and 31") == []


def test_a_day_start_that_clocks_skip_or_repeat(site) -> None:
    settings = _settings(site, day_starts="02:30")
    # 30 March 02:30 does not exist: as if still CET, 01:30 UTC. 26 October 02:30 comes first in CEST, 00:30 UTC.
    assert day_start(date(2031, 3, 30), settings) == datetime(2031, 3, 30, 1, 30)
    assert day_start(date(2031, 10, 26), settings) == datetime(2031, 10, 26, 0, 30)


def test_years_at_the_edge_of_the_calendar_do_not_break_it(site) -> None:
    settings = _settings(site, "Pacific/Auckland")
    assert broadcast_day(datetime(1, 1, 1), settings) == date(2, 1, 1)
    assert broadcast_day(datetime(9999, 12, 31, 23), settings) == date(9998, 12, 1)
    months = list(months_between(datetime(9999, 1, 1), datetime(9999, 12, 31), settings))
    assert months == [("9998-12", date(9998, 12, 1), date(9999, 1, 1))]


def test_an_unlikely_booking_far_ahead_costs_no_long_wait(site) -> None:
    _load(site, "2031-03-01T20:00", "2999-12-31T23:00")
    assert site.rows("select min(month) as low, max(month) as high from site_months") == [
        {"low": "2031-03", "high": "2999-12"}
    ]


@pytest.mark.parametrize(("day", "month", "first", "last"), PUBLISHED)
def test_a_broadcast_month_is_as_published(day: str, month: str, first: str, last: str) -> None:
    at = day_start(date.fromisoformat(day), BROADCAST)
    ((name, starts, after),) = months_between(at, at + timedelta(hours=1), BROADCAST)
    assert (name, str(starts), str(after - timedelta(days=1))) == (month, first, last)


def test_days_of_2024_are_of_the_months_published() -> None:
    found = {day: month_of(date.fromisoformat(day), BROADCAST).month for day in PUBLISHED_MONTHS}
    assert found == PUBLISHED_MONTHS
    # From memory of a printed calendar: January 2024 is 1 to 28 January, February 29 January to 25 February.
    started, ended = (day_start(date(2024, *day), BROADCAST) for day in ((1, 1), (2, 25)))
    assert list(months_between(started, ended, BROADCAST)) == [
        ("2024-01", date(2024, 1, 1), date(2024, 1, 29)),
        ("2024-02", date(2024, 1, 29), date(2024, 2, 26)),
    ]


def test_the_broadcast_years_of_53_weeks_are_those_published() -> None:
    def first(year: int) -> date:
        at = day_start(date(year, 1, 1), BROADCAST)
        return next(months_between(at, at + timedelta(hours=1), BROADCAST))[1]

    weeks = {year: (first(year + 1) - first(year)).days // 7 for year in range(2001, 2051)}
    assert {year for year, count in weeks.items() if count == 53} == LONG_YEARS
    assert set(weeks.values()) == {52, 53}


@given(
    started=st.datetimes(datetime(1990, 1, 1), datetime(2080, 1, 1)),
    days=st.integers(1, 900),
    months=st.sampled_from(["calendar", "broadcast"]),
    day_starts=st.sampled_from(["00:00", "02:30", "06:00"]),
)
def test_months_tile_time_without_gap_or_overlap(started: datetime, days: int, months: str, day_starts: str) -> None:
    settings, ended = replace(SETTINGS, months=months, day_starts=day_starts), started + timedelta(days=days)
    found = list(months_between(started, ended, settings))
    assert all(before[2] == after[1] for before, after in pairwise(found))
    assert len({name for name, _, _ in found}) == len(found)
    assert day_start(found[0][1], settings) <= started < day_start(found[0][2], settings)
    assert day_start(found[-1][1], settings) < ended <= day_start(found[-1][2], settings)
    for name, first, after in found:
        # Every day of it, and only those, is of that month by itself; a broadcast month is whole weeks from Monday.
        assert {f"{month_of(day, settings):%Y-%m}" for day in (first, after - timedelta(days=1))} == {name}
        assert f"{month_of(first - timedelta(days=1), settings):%Y-%m}" < name
        assert f"{month_of(after, settings):%Y-%m}" > name
        assert months == "calendar" or first.isoweekday() == 1
        assert months == "calendar" or (after - first).days in (28, 35)


def test_days_bear_the_names_of_their_broadcast_months(site) -> None:
    site.settings("Europe/Stockholm", "06:00")
    toml = site.folder / "site.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + '\nmonths = "broadcast"\n', encoding="utf-8")
    # 31 March 2031 is a Monday: its week ends on Sunday 6 April, so the day is of April. March 2031 began on Monday 24
    # February (1 March is a Saturday) and ended on Sunday 30 March. On 1 April at 05:00 it is still 31 March at six.
    site.write("bookings.csv", BOOKING.format("2031-03-31T05:00", "2031-04-01T05:00"))
    site.load()
    assert [(row["month"], row["started_at_utc"]) for row in site.rows("select * from site_months order by month")] == [
        ("2031-03", datetime(2031, 2, 24, 5)),
        ("2031-04", datetime(2031, 3, 31, 4)),
    ]
    days = site.rows(
        "select m.month, count(*) as days, count(*) filter (where d.month <> m.month) as strange from site_days as d "
        "inner join site_months as m on d.started_at_utc >= m.started_at_utc and d.ended_at_utc <= m.ended_at_utc "
        "group by m.month order by m.month"
    )
    assert [(row["month"], row["days"], row["strange"]) for row in days] == [("2031-03", 35, 0), ("2031-04", 28, 0)]
