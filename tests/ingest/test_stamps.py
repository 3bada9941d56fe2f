"""Stamps against RFC 3339's examples, the European rule for summer time, and polars' own copy of the zone rules."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.stamps import read_stamps

STOCKHOLM = ZoneInfo("Europe/Stockholm")


def _one(text: str, zone: ZoneInfo = STOCKHOLM) -> tuple[object, ...]:
    return read_stamps(pl.Series([text]), zone).row(0)


def _utc(*parts: int) -> datetime:
    return datetime(*parts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "expected", "digits"),
    [
        # RFC 3339 section 5.8, examples one to three and five; the text names the same instants in UTC.
        ("1985-04-12T23:20:50.52Z", _utc(1985, 4, 12, 23, 20, 50, 520_000), 2),
        ("1996-12-19T16:39:57-08:00", _utc(1996, 12, 20, 0, 39, 57), 0),
        ("1937-01-01T12:00:27.87+00:20", _utc(1937, 1, 1, 11, 40, 27, 870_000), 2),
        # ISO 8601 spellings of one instant: basic, minutes only, comma, week date (2031-W10-1 is 3 March).
        ("20310303T200000", _utc(2031, 3, 3, 19), 0),
        ("2031-03-03 20:00", _utc(2031, 3, 3, 19), 0),
        ("2031-03-03T20:00:00,5", _utc(2031, 3, 3, 19, 0, 0, 500_000), 1),
        ("2031-W10-1T20:00", _utc(2031, 3, 3, 19), 0),
        ("2031-03-03T20:00:00+0100", _utc(2031, 3, 3, 19), 0),
        ("2031-03-03", _utc(2031, 3, 2, 23), 0),
        ("2031-03-03T24:00", _utc(2031, 3, 3, 23), 0),
        ("2031-02-28T24:00:00.000Z", _utc(2031, 3, 1), 3),
        ("20310303T24", _utc(2031, 3, 3, 23), 0),
        # What follows the microsecond is cut off, not rounded.
        ("2031-03-03T20:00:00.1234569", _utc(2031, 3, 3, 19, 0, 0, 123_456), 6),
        ("20310303T200000.1234569", _utc(2031, 3, 3, 19, 0, 0, 123_456), 6),
        ("1899-03-03T20:00:00Z", _utc(1899, 3, 3, 20), 0),
    ],
)
def test_spellings(text: str, expected: datetime, digits: int) -> None:
    assert _one(text) == (expected, False, digits, None)


@pytest.mark.parametrize(
    "text",
    [
        "31/02/2031 10:00",
        "2031-02-29T10:00:00",
        "2031-03-01T25:00:00",
        "2031-03-01T24:00:01",
        "2031-03-01T24:30",
        "2031-03-01T10:60:00",
        "1990-12-31T23:59:60Z",  # RFC 3339's leap second: no clock of a room shows one, and a datetime cannot hold it
        "2031-03-01T10:00:00+25:00",
        "0001-01-01T00:00:00+01:00",
        "9999-12-31T24:00",
        "10:00",
        "2031",
        "now",
        "٢٠٣١-٠٣-٠١T10:00:00",
        "2031-03-01T10:00:00Z\x00",
        "x" * 100_000,
    ],
)
def test_what_is_no_time(text: str) -> None:
    assert _one(text) == (None, False, 0, "unreadable")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Directive 2000/84/EC: from the last Sunday of March to that of October, changing at 01:00 UTC. In 2031 these
        # are 30 March (02:00 to 03:00 is skipped) and 26 October (02:00 to 03:00 comes twice).
        ("2031-03-30T01:59:59.999999", (_utc(2031, 3, 30, 0, 59, 59, 999_999), False, 6, None)),
        ("2031-03-30T02:00:00", (None, False, 0, "skipped")),
        ("2031-03-30 02:59:59", (None, False, 0, "skipped")),
        ("2031-03-30T03:00:00", (_utc(2031, 3, 30, 1), False, 0, None)),
        ("2031-10-26T01:59:59", (_utc(2031, 10, 25, 23, 59, 59), False, 0, None)),
        ("2031-10-26T02:00:00", (_utc(2031, 10, 26, 0), True, 0, None)),
        ("2031-10-26T02:59:59", (_utc(2031, 10, 26, 0, 59, 59), True, 0, None)),
        ("2031-10-26T03:00:00", (_utc(2031, 10, 26, 2), False, 0, None)),
        ("2031-10-26T02:30:00+01:00", (_utc(2031, 10, 26, 1, 30), False, 0, None)),
        ("2031-10-25T24:00", (_utc(2031, 10, 25, 22), False, 0, None)),
    ],
)
def test_the_two_days_of_a_clock_change(text: str, expected: tuple[object, ...]) -> None:
    assert _one(text) == expected


def test_nulls_stay_null_and_order_is_kept() -> None:
    read = read_stamps(pl.Series([None, "x", "2031-03-01T00:00:00Z", None, "x"], dtype=pl.String), STOCKHOLM)
    assert read["problem"].to_list() == [None, "unreadable", None, None, "unreadable"]
    assert read["at_utc"].to_list() == [None, None, _utc(2031, 3, 1), None, None]
    assert read_stamps(pl.Series([], dtype=pl.String), STOCKHOLM).height == 0
    assert read_stamps(pl.Series([None], dtype=pl.String), STOCKHOLM)["at_utc"].to_list() == [None]


ZONES = (
    "Europe/Stockholm",
    "America/New_York",
    "Australia/Lord_Howe",
    "America/St_Johns",
    "Pacific/Apia",
    "Asia/Kolkata",
    "UTC",
)


@settings(deadline=None)
@given(
    st.sampled_from(ZONES),
    st.lists(st.datetimes(datetime(1972, 1, 1), datetime(2037, 12, 31)), max_size=5),
    st.integers(1972, 2036),
)
def test_any_wall_time_is_the_first_instant_that_another_zone_library_gives(zone: str, walls, year: int) -> None:
    # Every quarter of an hour around one year's clock changes, and some times anywhere. Reference: polars' own zones.
    days = pl.datetime_range(datetime(year, 1, 1), datetime(year, 12, 31), "1d", eager=True)
    series = pl.concat([pl.Series(walls, dtype=pl.Datetime("us")), _around_changes(days, zone)])
    reference = series.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    latest = series.dt.replace_time_zone(zone, ambiguous="latest", non_existent="null")
    read = read_stamps(series.dt.strftime("%Y-%m-%dT%H:%M:%S%.6f"), ZoneInfo(zone))
    assert read["at_utc"].to_list() == reference.dt.convert_time_zone("UTC").dt.replace_time_zone(None).to_list()
    assert read["is_ambiguous"].to_list() == (reference != latest).fill_null(value=False).to_list()
    assert (read["problem"] == "skipped").fill_null(value=False).to_list() == reference.is_null().to_list()


def _around_changes(days: pl.Series, zone: str) -> pl.Series:
    there = days.dt.replace_time_zone("UTC").dt.convert_time_zone(zone)
    offset = there.dt.base_utc_offset() + there.dt.dst_offset()
    changed = days.filter((offset != offset.shift(1)).fill_null(value=False)).to_list()
    assert changed or zone not in {"Europe/Stockholm", "America/New_York"} or days[0].year < 1980
    quarters = [day + timedelta(minutes=15 * k, microseconds=k) for day in changed for k in range(-2 * 24 * 4, 24 * 4)]
    return pl.Series(quarters, dtype=pl.Datetime("us"))


def test_offsets_and_utc_are_plain_subtraction() -> None:
    moment = datetime(2031, 3, 1, 12, tzinfo=UTC)
    for hours in range(-14, 15):
        text = f"2031-03-01T12:00:00{hours:+03d}:30"
        minutes = hours * 60 + (30 if hours >= 0 else -30)
        expected = moment.timestamp() - minutes * 60
        got = _one(text)[0]
        assert isinstance(got, datetime)
        assert got.replace(tzinfo=UTC).timestamp() == expected
