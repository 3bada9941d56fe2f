"""Time code against the anchors of SMPTE ST 12-1, and against labels written out one by one by its rule."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import product
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.ingest.times.stamps import Reading, read_stamps
from pipeline.ingest.times.timecode import counting_of, frame_number, label_of

NTSC = Fraction(30000, 1001)
DOUBLE = Fraction(60000, 1001)
FILM = Fraction(24000, 1001)
DAY = date(2031, 3, 9)


def drop_labels_of(hours: int, nominal: int, skipped: int) -> list[str]:
    """SMPTE ST 12-1: count all labels, but leave out the first ``skipped`` of each minute that is no tenth."""
    faces = product(range(hours), range(60), range(60), range(nominal))
    return [
        f"{hour:02}:{minute:02}:{second:02};{frame:02}"
        for hour, minute, second, frame in faces
        if not (second == 0 and frame < skipped and minute % 10)
    ]


@pytest.fixture(scope="module")
def drop_labels() -> list[str]:
    return drop_labels_of(24, 30, 2)


# SMPTE ST 12-1:2014 counting rule; from memory, the anchors also seen in public code and in PyPI timecode 1.5.1.
ANCHORS = [
    ("00:00:00;00", 0),
    ("00:00:59;29", 1799),
    ("00:01:00;02", 1800),
    ("00:09:59;29", 17981),
    ("00:10:00;00", 17982),
    ("01:00:00;00", 107892),
    ("10:00:00;00", 1078920),
    ("23:59:59;29", 2589407),
]


@pytest.mark.parametrize(("label", "frame"), ANCHORS)
def test_the_anchors_of_drop_frame(label: str, frame: int) -> None:
    assert frame_number(label, NTSC) == frame
    assert frame_number(label.replace(";", ","), NTSC) == frame
    assert label_of(frame, NTSC, is_drop=True) == label


def test_a_day_has_the_labels_that_the_rule_leaves(drop_labels: list[str]) -> None:
    counting = counting_of(NTSC, is_drop=True)
    assert counting is not None
    assert counting.per_day == len(drop_labels) == 2_589_408
    every = range(0, 2_589_408, 53)  # in the slow test without a gap; 53 meets every frame, second and minute
    assert [label_of(frame, NTSC, is_drop=True) for frame in every] == drop_labels[::53]
    assert [frame_number(label, NTSC) for label in drop_labels[::53]] == list(every)


@pytest.mark.slow
@pytest.mark.parametrize("block", [0, 71, 143])
def test_every_label_of_ten_minutes_there_and_back(drop_labels: list[str], block: int) -> None:
    """The rule repeats every ten minutes, which are 17,982 frames: the day's first, twelfth hour's last, and last."""
    frames = range(17_982 * block, 17_982 * (block + 1))
    labels = drop_labels[frames.start : frames.stop]
    assert [label_of(frame, NTSC, is_drop=True) for frame in frames] == labels
    assert [frame_number(label, NTSC) for label in labels] == list(frames)


@pytest.mark.parametrize(
    ("rate", "nominal"),
    [
        (Fraction(24), 24),
        (Fraction(25), 25),
        (Fraction(30), 30),
        (Fraction(50), 50),
        (NTSC, 30),
        (FILM, 24),
        (DOUBLE, 60),
    ],
)
def test_non_drop_labels_skip_nothing(rate: Fraction, nominal: int) -> None:
    # Plain counting: hh:mm:ss:ff is ((hh * 60 + mm) * 60 + ss) * nominal + ff.
    assert frame_number("01:00:00:00", rate) == 3600 * nominal
    assert frame_number(f"23:59:59:{nominal - 1:02}", rate) == 86_400 * nominal - 1
    for frame in (0, nominal - 1, nominal, 60 * nominal, 86_400 * nominal - 1):
        assert frame_number(label_of(frame, rate, is_drop=False), rate) == frame


def test_drop_frame_at_twice_the_rate_skips_twice_as_many() -> None:
    # ST 12-1 counts 60000/1001 in pairs of frames: 00:01:00;04 follows 00:00:59;59 (frame 3599).
    assert frame_number("00:00:59;59", DOUBLE) == 3599
    assert frame_number("00:01:00;04", DOUBLE) == 3600
    assert frame_number("00:10:00;00", DOUBLE) == 2 * 17_982
    labels = drop_labels_of(2, 60, 4)
    assert len(labels) == 2 * 2 * 107_892
    assert [label_of(frame, DOUBLE, is_drop=True) for frame in range(0, len(labels), 11)] == labels[::11]


@pytest.mark.parametrize(
    ("label", "rate"),
    [
        *((label, NTSC) for label in ("00:01:00;00", "00:01:00;01", "23:59:00,01", "00:00:00;30", "00:00:00:30")),
        ("00:01:00;03", DOUBLE),
        ("10:00:00:25", Fraction(25)),
        ("10:00:00;12", Fraction(25)),  # no drop-frame at 25, nor at 30 or 24000/1001
        ("10:00:00;12", Fraction(30)),
        ("10:00:00;12", FILM),
        *((label, NTSC) for label in ("24:00:00;00", "10:60:00;00", "10:00:60:00", "10:00:00", "1:00:00:00", "")),
    ],
)
def test_labels_that_do_not_exist(label: str, rate: Fraction) -> None:
    with pytest.raises(ValueError, match="label"):
        frame_number(label, rate)


@pytest.mark.parametrize(
    ("frame", "rate", "is_drop"), [(2_589_408, NTSC, True), (-1, NTSC, True), (0, Fraction(25), True)]
)
def test_frames_that_are_in_no_day(frame: int, rate: Fraction, is_drop: bool) -> None:
    with pytest.raises(ValueError, match="not a frame"):
        label_of(frame, rate, is_drop=is_drop)


def _seconds(labels: list[str], rate: Fraction) -> list[Fraction | None]:
    """Seconds after midnight of each label, read as stamps of 9 March."""
    read = read_stamps(pl.Series(labels), Reading(ZoneInfo("UTC"), timecode_rate=rate, day=DAY))
    midnight = datetime(2031, 3, 9, tzinfo=UTC).replace(tzinfo=None)
    return [
        None if at is None else Fraction((at - midnight) // timedelta(microseconds=1), 1_000_000)
        for at in read["at_utc"].to_list()
    ]


def test_a_drop_frame_label_is_its_count_over_the_exact_rate(drop_labels: list[str]) -> None:
    read = read_stamps(pl.Series(drop_labels), Reading(ZoneInfo("UTC"), timecode_rate=NTSC, day=DAY))["at_utc"]
    midnight_us = (DAY - date(1970, 1, 1)).days * 86_400_000_000
    # Frame n begins at n * 1001/30000 s, which is n * 1,001,000,000/30,000 microseconds; rounded to the nearest.
    off_by = (read.cast(pl.Int64) - midnight_us) * 30_000 - pl.int_range(2_589_408, eager=True) * 1_001_000_000
    assert off_by.abs().max() <= 15_000  # half a microsecond


def test_drop_frame_follows_the_clock() -> None:
    # SMPTE ST 12-1, informative: a day of 2,589,408 frames lasts 86,399.9136 s, 86.4 ms short. One hour: 3,599.9964 s.
    # The last label begins a frame (1001/30000 s) before the day's end, 86,399.880233 s.
    assert Fraction(2_589_408 * 1001, 30_000) == Fraction("86399.9136")
    assert _seconds(["01:00:00;00", "23:59:59;29"], NTSC) == [Fraction("3599.9964"), Fraction("86399.880233")]


def test_a_non_drop_label_is_the_clock_face_it_shows() -> None:
    # Its count over the rate would be 3,603.6 s: the mistake of 3.6 s an hour. Frame 15 of nominal 30 is half a second.
    assert Fraction(108_000 * 1001, 30_000) == Fraction("3603.6")
    assert _seconds(["01:00:00:00", "23:59:59:15"], NTSC) == [3600, Fraction("86399.5")]
    assert _seconds(["12:00:00:06"], FILM) == [Fraction("43200.25")]
    assert _seconds(["12:00:00:01"], Fraction(25)) == [Fraction("43200.04")]
    assert _seconds(["12:00:00:49"], Fraction(50)) == [Fraction("43200.98")]


def test_stamps_know_the_same_labels_as_the_count() -> None:
    texts = [
        f"{h:02}:{m:02}:{s:02};{f:02}" for h, m, s, f in product((0, 23), (0, 1, 9, 10, 59), (0, 1, 59), range(34))
    ]
    read = read_stamps(pl.Series(texts), Reading(ZoneInfo("UTC"), timecode_rate=NTSC, day=DAY))
    for text, at, problem in zip(texts, read["at_utc"], read["problem"], strict=True):
        try:
            frame_number(text, NTSC)
        except ValueError:
            assert (at, problem) == (None, "no_timecode")
        else:
            assert problem is None, text


def test_hours_from_24_on_are_the_next_days_labels() -> None:
    # 25:00:00;00 is 01:00:00;00 (3,599.9964 s) of the next day; 25:01:00;00 does not exist, as 01:01:00;00 does not.
    assert _seconds(["25:00:00;00", "25:00:00:15", "25:01:00;00"], NTSC) == [
        86_400 + Fraction("3599.9964"),
        Fraction("90000.5"),
        None,
    ]
