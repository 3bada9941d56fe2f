"""A time as typed: the site's own clock, its missing and its doubled hour, and nothing guessed."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from pipeline.asked_time import read_asked
from pipeline.errors import QuestionError

ZONE = ZoneInfo("Europe/Stockholm")


def span(text: str) -> tuple[str, str]:
    asked = read_asked(text, ZONE)
    return asked.started_at_utc.isoformat(" "), asked.ended_at_utc.isoformat(" ")


# Central European time is UTC+1, in summer UTC+2 (Directive 2000/84/EC, from memory); offsets and Z as in RFC 3339.
@pytest.mark.parametrize(
    ("text", "begins", "ends"),
    [
        ("2031-03-09 21:04", "2031-03-09 20:04:00", "2031-03-09 20:05:00"),
        ("2031-03-09T21:04", "2031-03-09 20:04:00", "2031-03-09 20:05:00"),
        ("  2031-07-09 21:04:07 ", "2031-07-09 19:04:07", "2031-07-09 19:04:08"),
        ("2031-03-09 21:04:07.96", "2031-03-09 20:04:07", "2031-03-09 20:04:08"),
        ("2031-03-09 21:04Z", "2031-03-09 21:04:00", "2031-03-09 21:05:00"),
        ("2031-03-09 21:04 -0330", "2031-03-10 00:34:00", "2031-03-10 00:35:00"),
        ("2031-03-30 01:59", "2031-03-30 00:59:00", "2031-03-30 01:00:00"),
        ("2031-03-30 03:00", "2031-03-30 01:00:00", "2031-03-30 01:01:00"),
    ],
)
def test_a_minute_is_that_minute_and_a_second_that_second(text: str, begins: str, ends: str) -> None:
    assert span(text) == (begins, ends)


def test_an_hour_that_was_twice_needs_an_offset() -> None:
    """The Directive ends summer time on the last Sunday of October, 01:00 UTC: the 26th in 2031."""
    with pytest.raises(QuestionError, match=r'"2031-10-26 02:30" was twice.*put \+02:00 or \+01:00 behind it'):
        read_asked("2031-10-26 02:30", ZONE)
    assert span("2031-10-26 02:30+02:00")[0] == "2031-10-26 00:30:00"
    assert span("2031-10-26 02:30+01:00")[0] == "2031-10-26 01:30:00"
    assert span("2031-10-26 03:00")[0] == "2031-10-26 02:00:00"


def test_an_hour_that_never_was_is_said_to_be_none() -> None:
    """It begins on the last Sunday of March, 01:00 UTC: the 30th in 2031."""
    with pytest.raises(QuestionError, match=r'"2031-03-30 02:30" never was in Europe/Stockholm'):
        read_asked("2031-03-30 02:30", ZONE)
    assert read_asked("2031-03-30 02:30Z", ZONE).started_at_utc == datetime.fromisoformat("2031-03-30 02:30")


@pytest.mark.parametrize(
    "text",
    [
        "", "now", "yesterday 21:04", "2031-03-09", "21:04", "09/03/2031 21:04", "2031-02-29 21:04", "2031-03-09 24:00",
        "2031-03-09 21:04:60", "2031-03-09 21:04.5", "2031-03-09 21:04+99:00", "20310309T2104", "0001-01-01 00:00",
        "٢٠٣١-٠٣-٠٩ 21:04", "2031-03-09 21:04 Europe/Paris",
    ],
)  # fmt: skip
def test_what_is_no_time_says_what_is_allowed(text: str) -> None:
    with pytest.raises(QuestionError, match=r"is not a time\. Expected a date and a time such as .*unless an offset"):
        read_asked(text, ZONE)


def test_what_was_typed_cannot_steer_the_terminal_nor_fill_it() -> None:
    with pytest.raises(QuestionError) as told:
        read_asked("\x1b[2J\u202e" + "9" * 4000, ZONE)
    assert str(told.value).isprintable()
    assert len(str(told.value)) < 300
