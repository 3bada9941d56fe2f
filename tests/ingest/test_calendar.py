"""Broadcast months and days, worked by hand from the European rule for summer time (Directive 2000/84/EC)."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from pipeline.ingest.calendar import broadcast_day, day_start, months_between
from pipeline.settings import read_settings

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
