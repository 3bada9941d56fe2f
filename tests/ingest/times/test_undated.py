"""Days for stamps that lack them, worked by hand: past midnight, past New Year, and in broadcast days."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.ingest.times.stamps import Carry, Reading, read_stamps

UTC = ZoneInfo("UTC")
RFC_3164 = Reading(UTC, year=2031)


def _read(texts: list[str], reading: Reading, carry: Carry | None = None) -> list[str]:
    return [f"{at:%y-%m-%d %H:%M}" for at in read_stamps(pl.Series(texts), reading, carry)["at_utc"].to_list()]


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        # A log of two nights: the time goes back by more than twelve hours at each midnight.
        (
            ["21:04", "23:59", "00:01", "13:00", "23:00", "10:59"],
            [
                "31-03-09 21:04",
                "31-03-09 23:59",
                "31-03-10 00:01",
                "31-03-10 13:00",
                "31-03-10 23:00",
                "31-03-11 10:59",
            ],
        ),
        # Back by twelve hours or less is a late line, or a log that is not in order: the same day.
        (
            ["12:00", "00:00", "11:59", "11:58"],
            ["31-03-09 12:00", "31-03-09 00:00", "31-03-09 11:59", "31-03-09 11:58"],
        ),
        (["12:00:01", "00:00"], ["31-03-09 12:00", "31-03-10 00:00"]),
        # 25:15 is the next day's 01:15 already; 01:20 goes back by 23:55 and begins that day.
        (["23:50", "25:15", "01:20"], ["31-03-09 23:50", "31-03-10 01:15", "31-03-10 01:20"]),
        # A stamp with a date is read as it stands and moves nothing.
        (["23:50", "2031-03-20T01:00:00", "00:10"], ["31-03-09 23:50", "31-03-20 01:00", "31-03-10 00:10"]),
    ],
)
def test_stamps_without_a_date(texts: list[str], expected: list[str]) -> None:
    assert _read(texts, Reading(UTC, day=date(2031, 3, 9))) == expected


def test_broadcast_days_without_a_date() -> None:
    # The day of 9 March runs from its 06:00 to 06:00 of the 10th, whichever time the file begins with.
    reading = Reading(UTC, day=date(2031, 3, 9), day_starts=time(6))
    texts = ["06:00", "23:59", "00:10", "24:20", "05:59", "06:00", "05:59", "29:59", "06:01"]
    assert _read(texts, reading) == [
        *("31-03-09 06:00", "31-03-09 23:59", "31-03-10 00:10", "31-03-10 00:20", "31-03-10 05:59"),
        *("31-03-10 06:00", "31-03-11 05:59", "31-03-11 05:59", "31-03-11 06:01"),
    ]
    assert _read(["00:10", "06:00"], reading) == ["31-03-10 00:10", "31-03-10 06:00"]


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        # Past New Year, a late line of the old year, and on.
        (
            ["Dec 31 23:59:58", "Jan  1 00:00:01", "Dec 31 23:59:59", "Jan  1 00:00:02", "Feb 29 12:00:00"],
            ["31-12-31 23:59", "32-01-01 00:00", "31-12-31 23:59", "32-01-01 00:00", "32-02-29 12:00"],
        ),
        # Back by more than half a year, also over a silence; by less it is a line out of order, or a clock set back.
        (["Nov  9 10:00:00", "Apr  1 10:00:00"], ["31-11-09 10:00", "32-04-01 10:00"]),
        (["Sep  9 10:00:00", "Mar  1 10:00:00"], ["31-09-09 10:00", "32-03-01 10:00"]),
        (["Sep  9 10:00:00", "Mar  9 10:00:00"], ["31-09-09 10:00", "31-03-09 10:00"]),
        # A long silence forward stays in its year; only January is followed by a late December.
        (["Jan  9 10:00:00", "Nov  1 10:00:00"], ["31-01-09 10:00", "31-11-01 10:00"]),
        (["Feb  9 10:00:00", "Dec  1 10:00:00"], ["31-02-09 10:00", "31-12-01 10:00"]),
        (["Jan  1 00:00:01", "Dec 31 23:59:59"], ["31-01-01 00:00", "30-12-31 23:59"]),
    ],
)
def test_stamps_without_a_year(texts: list[str], expected: list[str]) -> None:
    assert _read(texts, RFC_3164) == expected


def test_the_29th_of_february_needs_a_leap_year() -> None:
    read = read_stamps(pl.Series(["Feb 28 10:00:00", "Feb 29 10:00:00", "Mar  1 10:00:00"]), RFC_3164)
    assert read["problem"].to_list() == [None, "unreadable", None]


def test_what_cannot_be_read_moves_nothing() -> None:
    texts = ["23:00", "99:99", "x", "23:30", "00:15"]
    read = read_stamps(pl.Series(texts), Reading(UTC, day=date(2031, 3, 9)))
    expected = [datetime(2031, 3, 9, 23), None, None, datetime(2031, 3, 9, 23, 30), datetime(2031, 3, 10, 0, 15)]
    assert read["at_utc"].to_list() == expected


def test_a_carry_goes_from_batch_to_batch() -> None:
    carry, reading = Carry(), Reading(UTC, day=date(2031, 3, 9), year=2031)
    assert not carry.is_used
    assert _read(["2031-03-09 10:00"], reading, carry) == ["31-03-09 10:00"]
    assert not carry.is_used
    assert _read(["23:59", "Dec 31 10:00"], reading, carry) == ["31-03-09 23:59", "31-12-31 10:00"]
    assert carry.is_used
    assert _read(["00:01", "Jan 1 10:00"], reading, carry) == ["31-03-10 00:01", "32-01-01 10:00"]
    assert _read(["00:01", "Jan 1 10:00"], reading) == ["31-03-09 00:01", "31-01-01 10:00"]


def test_neither_day_nor_year_known() -> None:
    reading = Reading(UTC, day_starts=time(0))
    carry = Carry()
    read = read_stamps(pl.Series(["21:04", "Mar  9 21:04:11"]), reading, carry)
    assert read["problem"].to_list() == ["no_day", "no_year"]
    assert not carry.is_used
