"""How an account writes times: with the zone or the day only where it is another than the account began in."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from pipeline.render.told_times import clock, offset_words, told_events
from pipeline.render.words import Local
from tests.render.test_incident_words import ALARM, LOST, PART

LOCAL = Local(ZoneInfo("Europe/Stockholm"))


def test_a_time_of_another_day_or_zone_says_so() -> None:
    # 22:30 UTC is 23:30 CET on 14 March; 23:30 UTC is half past midnight of the 15th.
    assert clock(datetime.fromisoformat("2031-03-14 22:30:00"), PART, LOCAL) == "23:30:00"
    assert clock(datetime.fromisoformat("2031-03-14 23:30:00"), PART, LOCAL) == "15 March 2031 at 00:30:00 CET"
    # Clocks went forward at 01:00 UTC on 30 March 2031 (the last Sunday of March).
    part = PART | {"started_at_utc": datetime.fromisoformat("2031-03-30 00:30:00")}
    assert clock(datetime.fromisoformat("2031-03-30 01:30:00"), part, LOCAL) == "03:30:00 CEST"


def test_every_line_told_has_its_margin() -> None:
    assert told_events([ALARM, LOST], PART, LOCAL) == (
        "alarm: rf low at 20:41:04 (± 0.25 s) and picture lost at 20:41:07 (± 0.25 s)"
    )


def test_an_offset_has_its_sign() -> None:
    assert [offset_words({"value": value}) for value in (0.012, -0.12, 0.0)] == ["+12 ms", "−120 ms", "+0 ms"]
