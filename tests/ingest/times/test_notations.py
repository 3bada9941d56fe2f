"""Notations against Python's own strftime and e-mail dates, the examples of RFC 3164 and RFC 5322, and days by hand."""

# ruff: noqa: DTZ001, DTZ007 - the tables hold naive UTC

from __future__ import annotations

from datetime import date, datetime, time, timedelta, timezone
from email.utils import format_datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.times.stamps import Reading, read_stamps

UTC = ZoneInfo("UTC")
ANY = Reading(UTC, timecode_rate=Fraction(25))
MOMENT = datetime(2031, 3, 9, 21, 4, 11)  # a Sunday


def _in(order: str) -> Reading:
    return Reading(UTC, date_order=order)


def _one(text: str, reading: Reading = ANY) -> tuple[object, ...]:
    return read_stamps(pl.Series([text]), reading).row(0)


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("09.03.2031 21:04:11", "dmy"),
        ("9.3.2031 21:04:11", "dmy"),
        ("9. 3. 2031 21:04:11", "dmy"),
        ("09/03/2031 21:04:11", "dmy"),
        ("09-03-2031 21:04:11", "dmy"),
        ("09 03 2031 21:04:11", "dmy"),
        ("9.3.31 21:04:11", "dmy"),
        ("03/09/2031 21:04:11", "mdy"),
        ("3/9/31 9:04:11 PM", "mdy"),
        ("03/09/2031 09:04:11pm", "mdy"),
        ("31-03-09 21:04:11", "ymd"),
        ("2031/03/09 21:04:11", "mdy"),
        ("2031.3.9 21:04:11", "dmy"),
        ("2031-03-09 21:04:11", ""),
        ("2031/03/09, 21:04:11", ""),
        ("20310309 21:04:11", ""),
        ("20310309 210411", ""),
        ("20310309T210411", ""),
        ("9 March 2031 21:04:11", ""),
        ("09-Mar-2031 21:04:11", ""),
        ("09/Mar/2031:21:04:11", ""),
        ("9th MARCH 2031 21:04:11", ""),
        ("March 9, 2031 21:04:11", ""),
        ("Mar. 9 2031 21:04:11", ""),
        ("2031 Mar 09 21:04:11", ""),
        ("9-Mar-31 21:04:11", "dmy"),
        ("31-Mar-09 21:04:11", "ymd"),
        ("Mar 9 31 21:04:11", "mdy"),
        ("Sun Mar  9 21:04:11 2031", ""),  # as the C library's asctime lays it out
        ("Sunday, 9 March 2031 21:04:11", ""),
        ("Sun 09.03.2031 21:04:11", "dmy"),
        ("21:04:11 09.03.2031", "dmy"),
        ("2031-03-09 21.04.11", ""),
        ("9 Mar 2031 21.04.11", ""),
        ("09/03/31 21.04.11", "dmy"),
        ("09.03.2031 21.04.11", "dmy"),
        ("2031-03-09 21:04:11Z", ""),
        ("09.03.2031 21:04:11 UTC", "dmy"),
        ("09.03.2031 22:04:11 +0100", "dmy"),
        ("09.03.2031 22:04:11+01", "dmy"),
        ("09.03.2031 16:04:11-05:00", "dmy"),
        ("9 Mar 2031 9:04:11 p.m. -0000", ""),
        ("9 Mar 2031 9:04:11\u202fPM", ""),
        ("09.03.2031\u00a021:04:11", "dmy"),
    ],
)
def test_every_spelling_of_one_moment(text: str, order: str) -> None:
    assert _one(text, Reading(UTC, date_order=order, year=2000)) == (MOMENT, False, 0, None)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # RFC 5322 appendix A.1.1 and A.6.1's zone; RFC 3339 section 5.8.
        ("Fri, 21 Nov 1997 09:55:06 -0600", datetime(1997, 11, 21, 15, 55, 6)),
        ("Mon, 09 Mar 2031 00:30 +0100", datetime(2031, 3, 8, 23, 30)),
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520_000)),
        # Noon and midnight on the twelve-hour clock (POSIX strptime %I with %p: 12 AM is 0, 12 PM is 12).
        ("9 March 2031 12:00 am", datetime(2031, 3, 9)),
        ("9 March 2031 12:00 pm", datetime(2031, 3, 9, 12)),
        ("9 March 2031 1:05AM", datetime(2031, 3, 9, 1, 5)),
        # Day and month that cannot be taken for each other.
        ("13/03/2031 10:00", datetime(2031, 3, 13, 10)),
        ("03/13/2031 10:00", datetime(2031, 3, 13, 10)),
        ("03/03/2031 10:00", datetime(2031, 3, 3, 10)),
        ("29 Feb 2032", datetime(2032, 2, 29)),
        ("9 March 2031", datetime(2031, 3, 9)),
    ],
)
def test_texts_that_tell_all_themselves(text: str, expected: datetime) -> None:
    assert _one(text) == (expected, False, 2 if "50.52" in text else 0, None)


@pytest.mark.parametrize(
    ("text", "digits", "micros"),
    [
        ("09.03.2031 21:04:11.5", 1, 500_000),
        ("09.03.2031 21:04:11,25", 2, 250_000),
        ("09.03.2031 21:04:11.123456", 6, 123_456),
        ("09.03.2031 21:04:11.1234569 Z", 6, 123_456),  # cut off, not rounded
        ("09.03.2031 9:04:11.5 PM", 1, 500_000),
        ("20310309 210411,5", 1, 500_000),
        ("09/03/2031 21.04.11,5", 1, 500_000),
    ],
)
def test_fractions(text: str, digits: int, micros: int) -> None:
    assert _one(text, _in("dmy")) == (MOMENT.replace(microsecond=micros), False, digits, None)


@pytest.mark.parametrize(
    ("text", "order", "problem"),
    [
        ("09/03/2031 10:00", "", "no_order"),
        ("09.03.31 10:00", "", "no_order"),
        ("31.12.99", "", "no_order"),  # years of two digits need an order, even where only one fits
        ("9-Mar-31", "", "no_order"),
        ("31/02/2031 10:00", "", "unreadable"),
        ("31/02/2031 10:00", "dmy", "unreadable"),
        ("03/13/2031 10:00", "dmy", "unreadable"),
        ("13/03/2031 10:00", "mdy", "unreadable"),
        ("13/03/2031 10:00", "ymd", "unreadable"),
        ("Mar 9 10:00", "", "no_year"),
        ("10:00", "", "no_day"),
        ("Sun 10:00:00", "", "no_day"),
        ("29 Feb 2031 10:00", "", "unreadable"),
        ("30 Feb 10:00", "", "unreadable"),
        ("March 2031", "", "unreadable"),
        ("9 Marzo 2031", "", "unreadable"),
        ("9 March 2031 10:60", "", "unreadable"),
        ("9 March 2031 10:00:60", "", "unreadable"),
        ("9 March 2031 13:00 pm", "", "unreadable"),
        ("9 March 2031 0:30 am", "", "unreadable"),
        ("9 March 2031 am", "", "unreadable"),
        ("9 March 2031 10:00:00 CET", "", "unreadable"),  # such letters stand for several zones
        ("9 March 2031 10:00:00 +25:00", "", "unreadable"),
        ("9 March 2031 10:00:00 abt", "", "unreadable"),
        ("abt 9", "", "unreadable"),
        ("9 March 2031 10:00.5", "", "unreadable"),
        ("2031-03-09 10:00:00:30", "", "unreadable"),  # no rate
        ("31/12/1999/5 10:00", "dmy", "unreadable"),
        ("009/03/2031 10:00", "dmy", "unreadable"),
        ("9/3.2031 10:00", "dmy", "unreadable"),
        ("2031-03-09 10:00 11:00", "", "unreadable"),
        ("46023", "", "unreadable"),
        ("1930000000", "", "unreadable"),
        ("Total", "", "unreadable"),
        ("Sunday", "", "unreadable"),
        ("٠٩.٠٣.٢٠٣١ 10:00", "dmy", "unreadable"),
        ("9 March 2031 10:00" + " " * 100 + "x", "", "unreadable"),
    ],
)
def test_what_cannot_be_read_and_why(text: str, order: str, problem: str) -> None:
    # Broadcast days from midnight are calendar days, and make a reading that says more than its zone.
    assert _one(text, Reading(UTC, date_order=order, day_starts=time(0))) == (None, False, 0, problem)


NOTATIONS = (
    ("%d.%m.%Y %H:%M:%S", "dmy"),
    ("%d/%m/%Y %H:%M:%S.%f", "dmy"),
    ("%m/%d/%Y %I:%M:%S %p", "mdy"),
    ("%m-%d-%Y %H:%M:%S,%f", "mdy"),
    ("%Y/%m/%d %H:%M:%S", ""),
    ("%Y%m%d %H%M%S", ""),
    ("%d-%b-%Y %H:%M:%S.%f", ""),
    ("%A, %B %d, %Y %I:%M:%S %p", ""),
    ("%c", ""),
    ("%d %B %Y %H.%M.%S", ""),
)


@settings(deadline=None)
@given(st.lists(st.datetimes(datetime(1000, 1, 1), datetime(9999, 12, 30)), min_size=1), st.sampled_from(NOTATIONS))
def test_what_python_writes_is_read_back(moments: list[datetime], notation: tuple[str, str]) -> None:
    pattern, order = notation
    texts = pl.Series([moment.strftime(pattern) for moment in moments])
    expected = [datetime.strptime(text, pattern) for text in texts]
    assert read_stamps(texts, Reading(UTC, date_order=order, year=2000))["at_utc"].to_list() == expected


@settings(deadline=None)
@given(st.datetimes(datetime(1000, 1, 1), datetime(9999, 12, 30), timezones=st.just(ZoneInfo("America/St_Johns"))))
def test_dates_of_e_mail(moment: datetime) -> None:
    offset = timedelta(
        minutes=(moment.utcoffset() or timedelta()) // timedelta(minutes=1)
    )  # none had seconds since 1935
    moment = moment.astimezone(timezone(offset)).replace(microsecond=0)
    expected = (moment - offset).replace(tzinfo=None)
    assert _one(format_datetime(moment)) == (expected, False, 0, None)


@pytest.mark.parametrize("year", range(100))
def test_years_of_two_digits_are_those_of_strptime(year: int) -> None:
    # Reference: Python's strptime %y, which follows POSIX: 69 to 99 are 1969 to 1999, 00 to 68 are 2000 to 2068.
    text = f"09.03.{year:02}"
    assert _one(text, _in("dmy"))[0] == datetime.strptime(text, "%d.%m.%y")


def test_the_example_of_rfc_3164() -> None:
    # Section 5.4, example 1: "Oct 11 22:14:15", with a space for the first digit of a day below ten (section 4.1.2).
    reading = Reading(UTC, year=2003)
    assert _one("Oct 11 22:14:15", reading)[0] == datetime(2003, 10, 11, 22, 14, 15)
    assert _one("Oct  1 22:14:15", reading)[0] == datetime(2003, 10, 1, 22, 14, 15)
    assert _one("Feb 29 22:14:15", reading)[3] == "unreadable"
    assert _one("Feb 29 22:14:15", Reading(UTC, year=2004))[0] == datetime(2004, 2, 29, 22, 14, 15)


def test_frames_after_the_second() -> None:
    # At 25 frames a second frame 12 is 0.48 s. Without a date the day is the reading's.
    reading = Reading(UTC, timecode_rate=Fraction(25), date_order="dmy", day=date(2031, 3, 9))
    at = MOMENT.replace(microsecond=480_000)
    for text in ("09.03.2031 21:04:11:12", "2031-03-09T21:04:11:12", "21:04:11:12", "9 Mar 2031 9:04:11:12 pm"):
        assert _one(text, reading) == (at, False, 1, None)
    assert _one("21:04:11:25", reading)[3] == "no_timecode"
    assert _one("21:04:11;12", reading)[3] == "no_timecode"  # there is no drop-frame at 25
    assert _one("21:04:11:1", reading)[3] == "unreadable"
    # A comma and a point are decimal marks, ISO 8601: 0.12 s.
    assert _one("21:04:11,12", reading) == (MOMENT.replace(microsecond=120_000), False, 2, None)
    assert _one("21:04:11.12", reading) == (MOMENT.replace(microsecond=120_000), False, 2, None)


def test_mixed_rows_keep_their_order() -> None:
    texts = ["2031-03-09T21:04:11", "46023", "x", "09.03.2031 21:04:11", "46023.5", "20310309T210411", "13.03.2031"]
    read = read_stamps(pl.Series(texts), Reading(UTC, date_order="dmy", numbers="serial_1900"))
    days = [MOMENT, datetime(2026, 1, 1), None, MOMENT, datetime(2026, 1, 1, 12), MOMENT, datetime(2031, 3, 13)]
    assert read["at_utc"].to_list() == days
