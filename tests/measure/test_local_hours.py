"""Air time by the hour on the wall: nights in which clocks change, odd zones, and a second way of counting."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.measure.local_hours import HOUR_US, hour_name, hour_of, microseconds_by_hour, offset_us

MINUTE_US = 60_000_000
ZONES = ["Europe/Stockholm", "UTC", "Asia/Kathmandu", "Australia/Lord_Howe", "America/St_Johns"]


def spans(*pairs: tuple[str, str]) -> pl.DataFrame:
    rows = [(datetime.fromisoformat(start), datetime.fromisoformat(end)) for start, end in pairs]
    schema = {"started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us")}
    return pl.DataFrame(rows, schema=schema, orient="row")


def minutes(frame: pl.DataFrame, zone: str) -> dict[int, float]:
    by_hour = microseconds_by_hour(frame, ZoneInfo(zone))
    return {hour: amount / MINUTE_US for hour, amount in enumerate(by_hour) if amount}


def test_a_clock_that_goes_forward_skips_an_hour() -> None:
    # 30 March 2031 in Sweden: at 02:00, which is 01:00 UTC, clocks show 03:00. From 00:00 to 02:30 UTC the wall shows
    # 01 for an hour, 03 for an hour, 04 for half an hour.
    assert minutes(spans(("2031-03-30 00:00", "2031-03-30 02:30")), "Europe/Stockholm") == {1: 60, 3: 60, 4: 30}


def test_a_clock_that_goes_back_has_an_hour_twice() -> None:
    # 26 October 2031: at 03:00 summer time, 01:00 UTC, clocks show 02:00. From 23:30 to 02:00 UTC the wall shows half
    # an hour of 01, then 02 twice.
    assert minutes(spans(("2031-10-25 23:30", "2031-10-26 02:00")), "Europe/Stockholm") == {1: 30, 2: 120}


def test_zones_off_the_hour() -> None:
    # Nepal is 5 h 45 min ahead: 00:00 to 01:00 UTC is 05:45 to 06:45 there.
    assert minutes(spans(("2031-05-01 00:00", "2031-05-01 01:00")), "Asia/Kathmandu") == {5: 15, 6: 45}
    # Lord Howe Island puts its clocks back by half an hour, on 6 April 2031 at 02:00 (+11:00), which is 15:00 UTC of
    # the day before, to 01:30: from 14:00 to 16:00 UTC the wall shows 01 for an hour and again for half an hour, then
    # 02 for half an hour.
    assert minutes(spans(("2031-04-05 14:00", "2031-04-05 16:00")), "Australia/Lord_Howe") == {1: 90, 2: 30}


def test_microseconds_and_many_days_are_exact() -> None:
    by_hour = microseconds_by_hour(spans(("2031-02-01 05:59:59.999999", "2031-02-04 06:00:00.000001")), ZoneInfo("UTC"))
    # Three whole days give each hour 3 h; beyond them 1 µs of the 05 hour and 1 µs of the 06 hour.
    expected = [3 * HOUR_US] * 24
    expected[5] += 1
    expected[6] += 1
    assert by_hour == expected
    assert microseconds_by_hour(spans(), ZoneInfo("UTC")) == [0] * 24


def test_the_shortest_summer_time_is_seen() -> None:
    # Recife was 2 h behind UTC instead of 3 h from 8 October 2000, 03:00 UTC, to 15 October, 02:00 UTC: 6 d 23 h. From
    # 1 to 31 October, 30 days, midnight UTC to midnight: each hour 30 h, less the one skipped (00 on the 8th), and with
    # the one that came twice (23 on the 14th).
    expected = dict.fromkeys(range(24), 30 * 60) | {0: 29 * 60, 23: 31 * 60}
    assert minutes(spans(("2000-10-01 00:00", "2000-10-31 00:00")), "America/Recife") == expected


@given(
    zone=st.sampled_from(ZONES),
    starts=st.lists(st.tuples(st.integers(0, 366 * 1440), st.integers(1, 3000)), min_size=1, max_size=3),
)
def test_it_is_the_sum_of_minutes(zone: str, starts: list[tuple[int, int]]) -> None:
    """Minute by minute through the standard library's zones, which knows nothing of stretches."""
    base = datetime(2031, 1, 1, tzinfo=UTC)
    expected = [0] * 24
    for start, length in starts:
        for minute in range(start, start + length):
            wall = (base + timedelta(minutes=minute)).astimezone(ZoneInfo(zone))
            expected[wall.hour] += MINUTE_US
    naive = base.replace(tzinfo=None)
    rows = [(naive + timedelta(minutes=s), naive + timedelta(minutes=s + n)) for s, n in starts]
    frame = pl.DataFrame(rows, schema=["started_at_utc", "ended_at_utc"], orient="row")
    assert microseconds_by_hour(frame, ZoneInfo(zone)) == expected


@pytest.mark.parametrize(
    ("at", "hour"), [("2031-10-26 00:30", 2), ("2031-10-26 01:30", 2), ("2031-07-01 21:59:59", 23)]
)
def test_the_hour_of_an_instant(at: str, hour: int) -> None:
    assert hour_of(datetime.fromisoformat(at), ZoneInfo("Europe/Stockholm")) == hour


def test_names_and_the_ends_of_time() -> None:
    assert hour_name(7) == "07:00 to 08:00"
    assert hour_name(23) == "23:00 to 24:00"
    edge = (datetime.max.replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
    assert offset_us(edge, ZoneInfo("Europe/Stockholm")) == HOUR_US  # winter time, and no overflow
