"""The doubled hour by the order of lines, worked by hand on the days of a clock change, and on instants written down.

Clock changes: Directive 2000/84/EC (Stockholm, 26 October 2031, 03:00 CEST is 02:00 CET), and of 2024 those of the IANA
zone rules: New York 10 March and 3 November, London 31 March and 27 October, Lord Howe 7 April (half an hour back).
"""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.times.folds import resolve_folds
from pipeline.ingest.times.stamps import read_stamps

STOCKHOLM = ZoneInfo("Europe/Stockholm")


def _stamps(texts: list[str], zone: ZoneInfo, groups: list[str | None] | None = None) -> pl.DataFrame:
    read = read_stamps(pl.Series(texts, dtype=pl.String), zone)
    group = pl.Series("group", groups or ["VT1"] * len(texts), dtype=pl.String)
    line = pl.int_range(2, 2 + len(texts), eager=True).alias("line")
    return read.select("at_utc", "is_ambiguous").with_columns(group, line)


def _told(walls: str, zone: ZoneInfo = STOCKHOLM, day: str = "2031-10-26", groups: str = "") -> str:
    """UTC of each wall time after its order was looked at, with ? where it stays open."""
    texts = [wall if "-" in wall[:5] else f"{day}T{wall}" for wall in walls.split()]
    settled = resolve_folds(_stamps(texts, zone, list(groups) or None), zone)
    assert settled.columns == ["line", "at_utc", "is_ambiguous"]
    assert settled["line"].to_list() == list(range(2, 2 + len(texts)))
    return " ".join(f"{at:%H:%M}{'?' if is_open else ''}" for _, at, is_open in settled.iter_rows())


@pytest.mark.parametrize(
    ("walls", "expected"),
    [
        # First pass: two hours ahead of UTC; second pass: one.
        ("01:30 02:10 02:50 02:10 02:40 03:20", "23:30 00:10 00:50 01:10 01:40 02:20"),
        ("02:50 02:10", "00:50 01:10"),
        ("02:00 02:58:59 02:00 02:59", "00:00 00:58 01:00 01:59"),
        # Without a step back the order does not tell: all may be of the first pass, or all of the second.
        ("01:30 02:10 02:50 03:20", "23:30 00:10? 00:50? 02:20"),
        ("02:30", "00:30?"),
        # A step back of a minute is a late line, of more is the second pass.
        ("02:30:00 02:29:00", "00:30? 00:29?"),
        ("02:30:00 02:28:59", "00:30 01:28"),
        ("02:50 02:10:30 02:10:00 02:40", "00:50 01:10 01:10 01:40"),
        # Two steps back: not in time order.
        ("01:30 02:50 02:10 02:40 02:20 03:20", "23:30 00:50? 00:10? 00:40? 00:20? 02:20"),
        # A neighbour whose instant is sure: a late line just outside the fold, or one with an offset inside it.
        ("01:30 03:00:20 02:59:50 03:10", "23:30 02:00 01:59 02:10"),
        ("01:30 02:00:05 01:59:40 03:10", "23:30 00:00 23:59 02:10"),
        ("01:30 02:30+01:00 02:20 02:40 03:10", "23:30 01:30 00:20? 00:40? 02:10"),  # 02:20 fits nowhere after it
        ("01:30 02:30+01:00 02:31 02:40 03:10", "23:30 01:30 01:31 01:40 02:10"),
        ("01:30 02:31 02:40 02:50+02:00 02:55 03:10", "23:30 00:31 00:40 00:50 00:55? 02:10"),
        # Between sure ones of both passes the first row is of the first and the last of the second.
        ("01:30 02:40+02:00 02:41 02:42 02:43+02:00 03:10", "23:30 00:40 00:41 00:42 00:43 02:10"),
        # One step back, but the row in front lies after all of it: out of order, nothing decided.
        ("01:30 03:30 02:50 02:10 03:40 05:00", "23:30 02:30 00:50? 00:10? 02:40 04:00"),
        # Newest first: read from the end.
        ("03:20 02:40 02:10 02:50 02:10 01:30", "02:20 01:40 01:10 00:50 00:10 23:30"),
        ("03:20 02:50 02:10 01:30", "02:20 00:50? 00:10? 23:30"),
        # In no time order: less than two steps of one direction for each of the other.
        ("01:30 02:50 02:10 05:00 04:00 06:00 03:30", "23:30 00:50? 00:10? 04:00 03:00 05:00 02:30"),
        ("05:00 03:30 02:10 02:50 01:00 01:30 01:50", "04:00 02:30 00:10? 00:50? 23:00 23:30 23:50"),
    ],
)
def test_stockholm_by_hand(walls: str, expected: str) -> None:
    assert _told(walls) == expected


def test_each_group_has_its_own_order() -> None:
    # VT1 steps back, VT2 does not, though the file as a whole does; rows without a group are a group of their own.
    assert _told("02:40 02:50 02:10 02:55 03:10 03:20", groups="121221") == "00:40 00:50? 01:10 00:55? 02:10 02:20"
    stamps = _stamps(["2031-10-26T02:50:00", "2031-10-26T02:10:00"], STOCKHOLM, [None, None])
    assert resolve_folds(stamps, STOCKHOLM)["is_ambiguous"].to_list() == [False, False]


def test_a_group_without_other_steps_has_the_files_direction() -> None:
    # Group b lies within the hour. The file runs backwards, so its 02:10 and 02:50 are second and first pass.
    assert _told("05:00 02:10 02:50 01:30", groups="abba") == "04:00 01:10 00:50 23:30"
    assert _told("01:30 02:10 02:50 05:00", groups="abba") == "23:30 00:10? 00:50? 04:00"


def test_two_years_in_one_run() -> None:
    # In 2030 the clocks went back on 27 October. The step from one year's hour to the next's begins another run.
    walls = "2030-10-27T02:50 2030-10-27T02:10 2031-10-26T02:20 2031-10-26T02:40"
    assert _told(walls) == "00:50 01:10 00:20? 00:40?"
    assert _told("2030-10-27T02:50 2030-10-27T02:10 2031-10-26T02:40 2031-10-26T02:20") == "00:50 01:10 00:40 01:20"
    # That step tells the direction too: newest first.
    assert _told("2031-10-26T02:20 2031-10-26T02:40 2030-10-27T02:10 2030-10-27T02:50") == "01:20 00:40 01:10 00:50"


def test_the_width_is_the_zones() -> None:
    # Lord Howe, 7 April 2024: 02:00 at +11:00 is 01:30 at +10:30, so 01:30 to 02:00 comes twice, half an hour apart.
    lord_howe = ZoneInfo("Australia/Lord_Howe")
    assert _told("01:20 01:40 01:50 01:35 02:10", lord_howe, "2024-04-07") == "14:20 14:40 14:50 15:05 15:40"
    # New York, 3 November 2024: 02:00 EDT (-4) is 01:00 EST (-5). London, 27 October: 02:00 BST is 01:00 GMT.
    new_york, london = ZoneInfo("America/New_York"), ZoneInfo("Europe/London")
    assert _told("00:30 01:50 01:10 02:10", new_york, "2024-11-03") == "04:30 05:50 06:10 07:10"
    assert _told("00:30 01:50 01:10 02:10", london, "2024-10-27") == "23:30 00:50 01:10 02:10"


@pytest.mark.parametrize(
    ("zone", "text"),
    [
        ("Europe/Stockholm", "2031-03-30T02:30:00"),
        ("America/New_York", "2024-03-10T02:30:00"),
        ("Europe/London", "2024-03-31T01:30:00"),
        ("Australia/Lord_Howe", "2024-10-06T02:15:00"),  # 02:00 to 02:30
    ],
)
def test_the_hour_that_spring_leaves_out(zone: str, text: str) -> None:
    read = read_stamps(pl.Series([text]), ZoneInfo(zone))
    assert read.row(0) == (None, False, 0, "skipped")


def test_nothing_ambiguous_nothing_moved() -> None:
    stamps = _stamps(["2031-10-26T05:00:00", "2031-10-26T04:00:00"], STOCKHOLM)
    assert resolve_folds(stamps, STOCKHOLM).equals(stamps.select("line", "at_utc", "is_ambiguous"))
    assert resolve_folds(stamps.clear(), STOCKHOLM).height == 0


# A fold of each zone, as the UTC instant at which the clocks go back and the width; sources at the head of this file.
FOLDS = {
    "Europe/Stockholm": (datetime(2031, 10, 26, 1), timedelta(hours=1)),
    "America/New_York": (datetime(2024, 11, 3, 6), timedelta(hours=1)),
    "Europe/London": (datetime(2024, 10, 27, 1), timedelta(hours=1)),
    "Australia/Lord_Howe": (datetime(2024, 4, 6, 15), timedelta(minutes=30)),
}


@pytest.mark.lengthy
@settings(deadline=None, max_examples=300)
@given(
    st.sampled_from(sorted(FOLDS)),
    st.lists(st.tuples(st.integers(-7200, 7200), st.sampled_from("ab")), max_size=25),
    st.booleans(),
)
def test_instants_in_order_are_found_again(zone: str, seconds: list[tuple[int, str]], is_newest_first: bool) -> None:
    # Reference: the instants themselves, written down as wall times by zoneinfo.
    change, width = FOLDS[zone]
    edge = [(-9000, "a"), (-9000, "b"), (9000, "a"), (9000, "b")]  # so that the direction shows
    rows = sorted([*seconds, *edge], reverse=is_newest_first)
    truth = [change + timedelta(seconds=second) for second, _ in rows]
    texts = [f"{at.replace(tzinfo=UTC).astimezone(ZoneInfo(zone)):%Y-%m-%dT%H:%M:%S}" for at in truth]
    stamps = _stamps(texts, ZoneInfo(zone), [group for _, group in rows])
    settled = resolve_folds(stamps, ZoneInfo(zone))
    assert (settled["is_ambiguous"] <= stamps["is_ambiguous"]).all()
    rows_of = zip(truth, rows, stamps["is_ambiguous"], settled["at_utc"], settled["is_ambiguous"], strict=True)
    for at, (_, group), was_ambiguous, found, is_open in rows_of:
        if not is_open:
            assert found == at  # never moved wrongly, ambiguous before or not
        if was_ambiguous:
            assert is_open == (not _steps_back(truth, [other for _, other in rows], group, change, width))


def _steps_back(truth: list[datetime], groups: list[str], group: str, change: datetime, width: timedelta) -> bool:
    """The group's wall times go back by more than a minute at the change: worked from the instants."""
    own = sorted(at for at, other in zip(truth, groups, strict=True) if other == group)
    first = [at for at in own if change - width <= at < change]
    second = [at for at in own if change <= at < change + width]
    return bool(first and second) and first[-1] + width - second[0] > timedelta(seconds=60)
