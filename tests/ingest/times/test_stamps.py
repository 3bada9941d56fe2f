"""Stamps against RFC 3339's examples, the European rule for summer time, and polars' own copy of the zone rules."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from itertools import pairwise
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.times.stamps import Carry, Reading, read_stamps

STOCKHOLM = ZoneInfo("Europe/Stockholm")
DMY = Reading(STOCKHOLM, date_order="dmy")


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
        "2031-03-01T10:00:00:12",  # frames are no fraction of a second
        "2031-03-01 10:00:00:12+01:00",
        "2031-03-01T10:00.5",  # half a minute in ISO 8601, half a second to fromisoformat
        "20310301T1000,5",
        "2031-03-01T10.5",
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
    noted = read_stamps(series.dt.strftime("%d.%m.%Y %H:%M:%S%.6f"), Reading(ZoneInfo(zone), date_order="dmy"))
    assert noted.equals(read)


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


WIDE = (
    Reading(STOCKHOLM, timecode_rate=Fraction(25)),
    DMY,
    Reading(STOCKHOLM, date_order="ymd", numbers="epoch_s"),
    Reading(STOCKHOLM, numbers="serial_1900", day=date(2031, 3, 9), year=2031, day_starts=time(6)),
    Reading(STOCKHOLM, date_order="mdy", numbers="epoch_us", timecode_rate=Fraction(30000, 1001), year=2032),
    Reading(ZoneInfo("America/New_York"), numbers="serial_1904", day=date.max, year=9999, timecode_rate=Fraction(30)),
    Reading(ZoneInfo("Pacific/Apia"), numbers="epoch_ms", day=date.min, year=1, day_starts=time(23, 59)),
)
SPELLED = st.text("0123456789-:.,TWZ+ ", max_size=30)
ISO = st.one_of(
    st.datetimes(datetime(1900, 1, 1), datetime(2199, 12, 31)).map(lambda moment: moment.isoformat()),
    st.datetimes().map(lambda moment: moment.isoformat(" ", "minutes")),
    st.datetimes().map(lambda moment: moment.strftime("%G-W%V-%uT%H:%M:%S,%f+01:00")),
    st.datetimes().map(lambda moment: moment.strftime("%Y%m%dT%H%M")),
    st.dates().map(lambda day: day.isoformat()),
    SPELLED,
)


@settings(deadline=None)
@given(st.lists(ISO, max_size=8))
def test_a_zone_alone_and_a_reading_of_nothing_more_are_one(texts: list[str]) -> None:
    series = pl.Series(texts, dtype=pl.String)
    assert read_stamps(series, Reading(STOCKHOLM)).equals(read_stamps(series, STOCKHOLM))


@pytest.mark.lengthy
@settings(deadline=None, max_examples=300)
@given(st.lists(ISO, max_size=8), st.sampled_from(WIDE[:2]))
def test_what_iso_8601_means_it_means_in_every_reading(texts: list[str], reading: Reading) -> None:
    series = pl.Series(texts, dtype=pl.String)
    strict, wide = read_stamps(series, STOCKHOLM), read_stamps(series, reading)
    for text, one, other in zip(texts, strict.rows(), wide.rows(), strict=True):
        if one[3] != "unreadable":
            assert other == one, text


NOTED = st.text("0123456789:/.,;-+ TZapmJanMarSunDecUTC\x1f\u202f\n", max_size=30)


@pytest.mark.lengthy
@settings(deadline=None, max_examples=400)
@given(st.lists(st.one_of(st.none(), NOTED, SPELLED, st.text(max_size=100)), max_size=12), st.sampled_from(WIDE))
def test_any_text_gives_an_instant_or_a_problem(texts: list[str | None], reading: Reading) -> None:
    read = read_stamps(pl.Series(texts, dtype=pl.String), reading, Carry())
    assert read.height == len(texts)
    for text, (at, is_ambiguous, digits, problem) in zip(texts, read.rows(), strict=True):
        assert (at is not None) + (problem is not None) == (text is not None)
        assert at is not None or (not is_ambiguous and digits == 0)
        assert 0 <= digits <= 6


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # The days and reasons of test_the_two_days_of_a_clock_change, in a room's own notation.
        ("30.03.2031 01:59:59", (_utc(2031, 3, 30, 0, 59, 59), False, 0, None)),
        ("30.03.2031 02:00", (None, False, 0, "skipped")),
        ("30.03.2031 03:00", (_utc(2031, 3, 30, 1), False, 0, None)),
        ("26.10.2031 02:30:00.25", (_utc(2031, 10, 26, 0, 30, 0, 250_000), True, 2, None)),
        ("26.10.2031 02:30+01:00", (_utc(2031, 10, 26, 1, 30), False, 0, None)),
        # Days are added first, the zone's rules apply to what results: 26:30 of the 25th is 02:30 of the 26th.
        ("25.10.2031 26:30", (_utc(2031, 10, 26, 0, 30), True, 0, None)),
        ("29.03.2031 26:30", (None, False, 0, "skipped")),
        ("25.10.2031 27:00", (_utc(2031, 10, 26, 2), False, 0, None)),
        # 25:15 is the next calendar day's 01:15 (common practice, no source); 47:59 the last such time.
        ("09.03.2031 25:15", (_utc(2031, 3, 10, 0, 15), False, 0, None)),
        ("2031-03-09T25:15:00", (_utc(2031, 3, 10, 0, 15), False, 0, None)),
        ("31.12.2031 47:59:59", (_utc(2032, 1, 1, 22, 59, 59), False, 0, None)),
        ("09.03.2031 25:15+03:00", (_utc(2031, 3, 9, 22, 15), False, 0, None)),
        ("09.03.2031 48:00", (None, False, 0, "unreadable")),
        ("31.12.9999 24:00", (None, False, 0, "unreadable")),
        ("01.01.0001 00:00+01:00", (None, False, 0, "unreadable")),
    ],
)
def test_clock_changes_and_late_hours_in_a_rooms_own_notation(text: str, expected: tuple[object, ...]) -> None:
    assert read_stamps(pl.Series([text]), DMY).row(0) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # A broadcast day of 9 March from 06:00; Stockholm is an hour ahead of UTC. Worked by hand.
        ("2031-03-09T06:00:00", _utc(2031, 3, 9, 5)),
        ("2031-03-09T23:59:59", _utc(2031, 3, 9, 22, 59, 59)),
        ("2031-03-09T00:00:00", _utc(2031, 3, 9, 23)),
        ("2031-03-09T05:59:59", _utc(2031, 3, 10, 4, 59, 59)),
        ("09.03.2031 01:15", _utc(2031, 3, 10, 0, 15)),
        ("09.03.2031 25:15", _utc(2031, 3, 10, 0, 15)),  # says so itself: not twice
        ("09.03.2031 24:00", _utc(2031, 3, 9, 23)),
        ("2031-03-09T01:15:00+01:00", _utc(2031, 3, 9, 0, 15)),  # an offset names an instant
        ("2031-03-09", _utc(2031, 3, 8, 23)),  # no time of day is written
        ("20310309T01", _utc(2031, 3, 10)),  # 01:00 of the 10th, by the spelling that only fromisoformat knows
        ("20310309T24", _utc(2031, 3, 9, 23)),
        # 25 October's broadcast day is the long one: its 02:30 comes twice, on the calendar's 26th.
        ("25.10.2031 02:30", _utc(2031, 10, 26, 0, 30)),
        ("45725.5", _utc(2025, 3, 9, 11)),  # serial_1900: 46023 is 2026-01-01, so 45725 is 298 days before it
        ("45725.05", _utc(2025, 3, 10, 0, 12)),  # 0.05 of a day is 01:12
    ],
)
def test_broadcast_days(text: str, expected: datetime) -> None:
    reading = Reading(STOCKHOLM, date_order="dmy", day_starts=time(6), numbers="serial_1900")
    assert read_stamps(pl.Series([text]), reading)["at_utc"].item() == expected


CLOCKS = st.lists(st.integers(0, 86_399), max_size=30)


@pytest.mark.lengthy
@settings(deadline=None)
@given(CLOCKS, st.lists(st.integers(0, 30), max_size=3), st.sampled_from(["%H:%M:%S", "%b %d %H:%M:%S"]))
def test_batches_give_what_one_batch_gives(seconds: list[int], cuts: list[int], notation: str) -> None:
    reading = Reading(STOCKHOLM, year=2031, day=date(2031, 3, 9))
    moments = [datetime(2031, 1, 1) + timedelta(seconds=k * (1 if notation[1] == "H" else 365)) for k in seconds]
    texts = pl.Series([moment.strftime(notation) for moment in moments], dtype=pl.String)
    edges = [0, *sorted(cuts), len(seconds)]
    carry = Carry()
    parts = [read_stamps(texts[a:b], reading, carry) for a, b in pairwise(edges) if a < b]
    whole = read_stamps(texts, reading)
    assert pl.concat([whole.clear(), *parts]).equals(whole)
    assert carry.is_used == bool(seconds)


def test_nulls_in_other_notations() -> None:
    read = read_stamps(pl.Series([None, "09.03.2031 21:04", None, "x"], dtype=pl.String), DMY)
    assert read["at_utc"].to_list() == [None, _utc(2031, 3, 9, 20, 4), None, None]
    assert read["problem"].to_list() == [None, None, None, "unreadable"]
    assert read_stamps(pl.Series([], dtype=pl.String), DMY).height == 0
    assert read_stamps(pl.Series([None], dtype=pl.String), DMY)["problem"].to_list() == [None]
