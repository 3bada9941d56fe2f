"""What is said of a time that is no incident: from when to when, how long, and what touches it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from pipeline.render.stretch import is_stretch, stretch_headline, stretch_title
from pipeline.render.words import Local

LOCAL = Local(ZoneInfo("Europe/Stockholm"))


def stretch(begins: str, ends: str, lost_s: float = 0.0) -> dict[str, Any]:
    return {
        "incident": "window-x",
        "channel": "One",
        "started_at_utc": datetime.fromisoformat(begins),
        "ended_at_utc": datetime.fromisoformat(ends),
        "lost_s": lost_s,
    }


def test_only_a_name_that_says_so_is_a_stretch() -> None:
    assert is_stretch(stretch("2031-03-09 20:00", "2031-03-09 20:01"))
    assert not is_stretch({"incident": "20310309-200000-window-x"})


# Stockholm is an hour ahead of UTC, in summer two: in 2031 from 30 March to 26 October, 01:00 UTC (from memory).
@pytest.mark.parametrize(
    ("begins", "ends", "title"),
    [
        ("2031-03-09 20:04", "2031-03-09 20:05", "9 March 2031, 21:04:00 to 21:05:00"),
        ("2031-03-09 22:30", "2031-03-09 23:30", "9 March 2031, 23:30:00 to 10 March 2031, 00:30:00"),
        ("2031-10-26 00:30", "2031-10-26 01:30", "26 October 2031, 02:30:00 to 02:30:00 CET"),
    ],
)
def test_the_title_names_day_and_zone_of_the_end_only_where_they_are_others(begins: str, ends: str, title: str) -> None:
    assert stretch_title(stretch(begins, ends), LOCAL) == title


def test_the_headline_tells_what_touches_it() -> None:
    quiet = stretch("2031-03-09 20:04", "2031-03-09 20:05")
    assert (
        stretch_headline(quiet, [], LOCAL) == "This is no incident but a time that was asked for: 1 min of channel One."
    )
    assert stretch_headline(quiet, [{}], LOCAL).endswith(
        "One event of the channel touches it and is told whole: no loss of air logged."
    )
    lossy = stretch("2031-10-26 00:30", "2031-10-26 01:30", 15.0)
    assert stretch_headline(lossy, [{}, {}], LOCAL).endswith(
        "1 h of channel One. Two events of the channel touch it and are told whole: 15 s of air lost. "
        "The clocks changed meanwhile: it begins in CEST and ends in CET."
    )
