"""Bare numbers as times, against openpyxl's reading of serials, ECMA-376 Part 1 section 18.17.4.1, and POSIX time."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from pipeline.ingest.times.stamps import Reading, read_stamps

UTC = ZoneInfo("UTC")


def _one(text: str, numbers: str, zone: ZoneInfo = UTC) -> tuple[object, ...]:
    return read_stamps(pl.Series([text]), Reading(zone, numbers=numbers)).row(0)


@pytest.mark.parametrize(
    ("text", "numbers", "expected"),
    [
        # 2026-01-01 is 46023, or 44561 in the 1904 system: 1,462 days apart, as 1900-01-01 is 1 and 1904-01-01 is 0.
        ("46023", "serial_1900", datetime(2026, 1, 1)),
        ("44561", "serial_1904", datetime(2026, 1, 1)),
        # ECMA-376's own examples: 38749 is 2006-02-01, 3687 is 1910-02-03, 2958465 is 9999-12-31.
        ("38749", "serial_1900", datetime(2006, 2, 1)),
        ("3687", "serial_1900", datetime(1910, 2, 3)),
        ("2958465", "serial_1900", datetime(9999, 12, 31)),
        ("2957003", "serial_1904", datetime(9999, 12, 31)),
        # "serial value 59 corresponds to February 28, and serial value 61 corresponds to March 1" of 1900.
        ("1", "serial_1900", datetime(1900, 1, 1)),
        ("59", "serial_1900", datetime(1900, 2, 28)),
        ("59.5", "serial_1900", datetime(1900, 2, 28, 12)),
        ("61", "serial_1900", datetime(1900, 3, 1)),
        ("1", "serial_1904", datetime(1904, 1, 2)),
        # 21:04:11 is 75,851 of 86,400 s, 0.877905092592…; rounded to the millisecond.
        ("46023.8779050926", "serial_1900", datetime(2026, 1, 1, 21, 4, 11)),
        ("46023,8779050926", "serial_1900", datetime(2026, 1, 1, 21, 4, 11)),
        ("4.6023877905092594E4", "serial_1900", datetime(2026, 1, 1, 21, 4, 11)),
        # POSIX: seconds since 1970; 2,000,000,000 is 2033-05-18T03:33:20Z.
        ("0", "epoch_s", datetime(1970, 1, 1)),
        ("2000000000", "epoch_s", datetime(2033, 5, 18, 3, 33, 20)),
        ("2e9", "epoch_s", datetime(2033, 5, 18, 3, 33, 20)),
        ("+2000000000.5", "epoch_s", datetime(2033, 5, 18, 3, 33, 20, 500_000)),
        ("-0.25", "epoch_s", datetime(1969, 12, 31, 23, 59, 59, 750_000)),
        ("-62135596800", "epoch_s", datetime(1, 1, 1)),
        ("253402300799.999999", "epoch_s", datetime(9999, 12, 31, 23, 59, 59, 999_999)),
        ("2000000000123", "epoch_ms", datetime(2033, 5, 18, 3, 33, 20, 123_000)),
        ("2000000000123.4567", "epoch_ms", datetime(2033, 5, 18, 3, 33, 20, 123_456)),
        ("2000000000123456", "epoch_us", datetime(2033, 5, 18, 3, 33, 20, 123_456)),
    ],
)
def test_numbers_by_hand(text: str, numbers: str, expected: datetime) -> None:
    at, is_ambiguous, _, problem = _one(text, numbers)
    assert (at, is_ambiguous, problem) == (expected, False, None)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("60", "serial_1900"),  # 29 February 1900, which was no day
        ("60.5", "serial_1900"),
        ("-1", "serial_1900"),
        ("2958466", "serial_1900"),
        ("2957004", "serial_1904"),
        ("20310309", "serial_1900"),
        ("1e400", "serial_1900"),
        ("1e99", "epoch_s"),
        ("253402300800", "epoch_s"),
        ("-62135596801", "epoch_s"),
        ("9" * 30, "epoch_us"),
        ("9" * 5000, "epoch_us"),
        ("nan", "epoch_s"),
        ("1_000", "epoch_s"),
        ("1.5.2", "serial_1900"),
        ("0x10", "epoch_s"),
    ],
)
def test_numbers_that_are_no_times(text: str, numbers: str) -> None:
    assert _one(text, numbers) == (None, False, 0, "unreadable")


def test_a_serial_is_wall_time_and_an_epoch_is_utc() -> None:
    # Stockholm is two hours ahead of UTC in July. 46204 is 2026-07-01, 181 days after 46023 (31+28+31+30+31+30).
    stockholm = ZoneInfo("Europe/Stockholm")
    assert _one("46204.5", "serial_1900", stockholm)[0] == datetime(2026, 7, 1, 10)
    assert _one("2000000000", "epoch_s", stockholm)[0] == datetime(2033, 5, 18, 3, 33, 20)
    # 2026-03-29 (46110) 02:30 is skipped, 2026-10-25 (46320) 02:30 comes twice: last Sundays. 2.5 h are 0.1041666667 d.
    assert _one("46110.1041666667", "serial_1900", stockholm)[3] == "skipped"
    assert _one("46320.1041666667", "serial_1900", stockholm)[:2] == (datetime(2026, 10, 25, 0, 30), True)


def test_digits_are_those_below_the_second() -> None:
    for text, numbers, digits in (
        ("2000000000", "epoch_s", 0),
        ("2000000000.50", "epoch_s", 2),
        ("2000000000123", "epoch_ms", 3),
        ("2000000000123.4", "epoch_ms", 4),
        ("2000000000123456", "epoch_us", 6),
        ("2000000000123456.789", "epoch_us", 6),
        ("46023.8779050926", "serial_1900", 0),  # whole seconds
        ("46023.25", "serial_1900", 0),
        ("46023.87790625", "serial_1900", 3),  # 75,851.1 s, in steps of 86,400e-8 s
        ("46023.877906", "serial_1900", 1),  # 75,851.0784 s, in steps of 0.0864 s
    ):
        assert _one(text, numbers)[2] == digits, text


def test_a_serial_below_one_is_a_time_without_a_date() -> None:
    # 0.25 of a day is 06:00, 0 is midnight.
    for numbers in ("serial_1900", "serial_1904"):
        assert _one("0.25", numbers)[3] == "no_day"
        reading = Reading(UTC, numbers=numbers, day=date(2031, 3, 9))
        read = read_stamps(pl.Series(["0", "0.25", "0.99999999999", "0.75"]), reading)["at_utc"].to_list()
        assert read == [datetime(2031, 3, 9), datetime(2031, 3, 9, 6), datetime(2031, 3, 10), datetime(2031, 3, 9, 18)]


@settings(deadline=None)
@given(st.lists(st.datetimes(datetime(1904, 1, 2), datetime(9999, 12, 30)), min_size=1))
def test_serials_are_what_openpyxl_makes_of_them(moments: list[datetime]) -> None:
    for numbers, epoch in (("serial_1900", CALENDAR_WINDOWS_1900), ("serial_1904", CALENDAR_MAC_1904)):
        zero = datetime(1899, 12, 30) if numbers == "serial_1900" else datetime(1904, 1, 1)
        serials = [(moment.replace(microsecond=0) - zero) / timedelta(days=1) for moment in moments]
        read = read_stamps(pl.Series([f"{serial:.10f}" for serial in serials]), Reading(UTC, numbers=numbers))
        expected = [from_excel(serial, epoch) for serial in serials]
        for got, want in zip(read["at_utc"].to_list(), expected, strict=True):
            assert abs(got - want) <= timedelta(milliseconds=1)


@settings(deadline=None)
@given(st.lists(st.integers(-62_135_596_800_000_000, 253_402_300_799_999_999), min_size=1))
def test_epochs_are_exact(counts: list[int]) -> None:
    expected = [datetime(1970, 1, 1) + timedelta(microseconds=count) for count in counts]
    read = read_stamps(pl.Series([str(count) for count in counts]), Reading(UTC, numbers="epoch_us"))
    assert read["at_utc"].to_list() == expected
