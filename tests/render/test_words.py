"""Numbers and instants as they read; the expected words are worked by hand from the rule each test names."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from pipeline.render import words
from pipeline.render.words import Local

STOCKHOLM = Local(ZoneInfo("Europe/Stockholm"))


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (None, "not known"),
        (0, "0 s"),
        (0.001, "under 0.01 s"),
        (0.04, "0.04 s"),
        (4.2, "4.2 s"),
        (59.94, "59.9 s"),
        (59.96, "1 min"),  # 59.96 rounds to 60 whole seconds, which is one minute and never "60.0 s"
        (192, "3 min 12 s"),  # 3 × 60 + 12
        (3599.6, "1 h"),
        (7500, "2 h 05 min"),  # 2 × 3600 + 5 × 60
        (-3, "−3 s"),
    ],
)
def test_duration(seconds: float | None, text: str) -> None:
    assert words.duration(seconds) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 h"),
        (12, "12 s"),
        (8820, "2.45 h"),
        (1_485_360, "412.6 h"),
        (14_400_000, "4,000.0 h"),
        (None, "not known"),
    ],
)
def test_hours_keep_what_is_little(seconds: float | None, text: str) -> None:
    # 8820 / 3600 = 2.45; 1,485,360 / 3600 = 412.6
    assert words.hours(seconds) == text


def test_continuity_is_cut_and_never_rounded_up() -> None:
    # 1 s lost in 1,000 h is 1 − 1/3,600,000 = 99.99997 %: it must not read 100 %.
    assert words.continuity(1 - 1 / 3_600_000) == "99.999 %"
    assert words.continuity(1.0) == "100.000 %"
    # The worked example of the definitions: 36 s of 99 known hours.
    assert words.continuity(1 - 36 / 356_400) == "99.989 %"


def test_a_share_that_is_there_is_not_printed_as_nothing() -> None:
    assert words.share(1, 100_000) == "under 0.1 %"
    assert words.share(0, 10) == "0 %"
    assert words.share(1, 8) == "12.5 %"
    assert words.share(1, 0) == "n/a"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (0.004, "under 0.01"),
        (0.52, "0.52"),
        (5.244, "5.24"),
        (52.44, "52.4"),
        (524.4, "524"),
        (5240, "5,240"),
        (float("inf"), "without limit"),
        (None, "n/a"),
    ],
)
def test_figure(value: float | None, text: str) -> None:
    assert words.figure(value) == text


def test_rate_names_its_limits() -> None:
    assert words.rate({"value": 5.0, "low": 1.03, "high": 14.61}) == "5.00 (1.03 to 14.6)"
    assert words.rate({"value": None, "low": None, "high": None}) == "n/a"


def test_instants_are_local_and_name_their_zone() -> None:
    # Summer time begins on the last Sunday of March at 01:00 UTC (directive 2000/84/EC): 30 March 2031.
    assert STOCKHOLM.when(datetime.fromisoformat("2031-03-30 00:59:59")) == "30 March 2031 at 01:59:59 CET"
    assert STOCKHOLM.when(datetime.fromisoformat("2031-03-30 01:00:00")) == "30 March 2031 at 03:00:00 CEST"


def test_instants_round_to_a_hundredth_and_carry() -> None:
    assert STOCKHOLM.time(datetime.fromisoformat("2031-03-01 19:41:07.254")) == "20:41:07.25"
    assert STOCKHOLM.stamp(datetime.fromisoformat("2031-12-31 22:59:59.999")) == "2032-01-01 00:00:00"
    assert STOCKHOLM.stamp(None) == "not recorded"


def test_small_words() -> None:
    assert words.listed(["a"]) == "a"
    assert words.listed(["a", "b", "c"]) == "a, b and c"
    assert words.counted(1, "switch", "switches") == "1 switch"
    assert words.spoken(3, "switch", "switches") == "three switches"
    assert [words.times(number) for number in (0, 1, 2, 3, 30)] == ["never", "once", "twice", "three times", "30 times"]
    assert words.month_name("2031-03") == "March 2031"
    assert [words.chance(p) for p in (0.0004, 0.0042, 0.42)] == ["p below 0.001", "p = 0.004", "p = 0.42"]
    assert words.within(None) == "± not known"
