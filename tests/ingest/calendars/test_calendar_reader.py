"""Calendars as rooms export them: odd, broken, endless and hostile ones, and those that the library writes itself.

The published examples of RFC 5545 and RFC 5546 are in test_calendar_published.py. Zones are those of the IANA database;
Stockholm is an hour ahead of UTC in winter, and two from 2031-03-30 01:00Z to 2031-10-26 01:00Z.
"""

from __future__ import annotations

import io
import re
import time
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.calendars import calendar_blocks, calendar_reader
from pipeline.ingest.calendars.calendar_reader import read_calendar

STOCKHOLM = ZoneInfo("Europe/Stockholm")
EVENING = "DTSTART;TZID=Europe/Stockholm:20310309T200000\nDTEND;TZID=Europe/Stockholm:20310309T210000\n"
INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z")
CANCELLED = "cancelled: the event is cancelled (STATUS:CANCELLED)."


@dataclass
class Told:
    """All that a calendar file came to."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    aside: list[dict[str, Any]] = field(default_factory=list)
    findings: list[dict[str, Any]] = field(default_factory=list)
    headers: list[tuple[str, ...]] = field(default_factory=list)

    @property
    def starts(self) -> list[str]:
        return [row["starts"] for row in self.rows]

    @property
    def bookings(self) -> list[str | None]:
        return [row["booking"] for row in self.rows]

    @property
    def reasons(self) -> list[str]:
        return [row["reason"] for row in self.aside]


def _read(data: str | bytes, *, zone: ZoneInfo = STOCKHOLM, until: date | None = None) -> Told:
    told = Told()
    raw = data if isinstance(data, bytes) else data.replace("\n", "\r\n").encode()
    for batch in read_calendar(io.BytesIO(raw), "rota.ics", zone, until=until):
        names = dict(zip(batch.rows.columns[2:], batch.headers, strict=True))
        told.rows += batch.rows.rename(names).to_dicts()
        told.aside += batch.aside.to_dicts()
        told.findings += batch.findings.to_dicts()
        told.headers.append(batch.headers)
    lines = sorted(row["line"] for row in (*told.rows, *told.aside))
    assert lines == list(range(1, len(lines) + 1))  # every row has a number of its own
    return told


def _calendar(*events: str, head: str = "") -> str:
    body = "".join(f"BEGIN:VEVENT\n{event.strip()}\nEND:VEVENT\n" for event in events)
    return f"BEGIN:VCALENDAR\nVERSION:2.0\n{head}{body}END:VCALENDAR\n"


def _recurring(rule: str, more: str = "") -> str:
    return f"UID:a\n{EVENING}RRULE:{rule}\n{more}"


def test_an_event_is_a_row_with_its_cells() -> None:
    event = f"""UID:b-17@room
{EVENING}SUMMARY;LANGUAGE=en:Harbour News\\, part 2
LOCATION:VT3
DESCRIPTION:Reel R7\\nProtect on VT4
CATEGORIES:AIR,NEWS
CATEGORIES:with\\, comma
STATUS:CONFIRMED
TRANSP:OPAQUE
CLASS:PUBLIC
SEQUENCE:3
ORGANIZER;CN=Planning:mailto:planning@example.com
URL:http://example.com/b;17,x
X-REEL:R7
x-role;X-P="a:b;c":air
ATTENDEE:mailto:somebody@example.com
BEGIN:VALARM
TRIGGER:-PT15M
SUMMARY:not the event's
X-REEL:not the event's
END:VALARM"""
    told = _read(_calendar(event))
    assert told.aside == []
    row = told.rows[0]
    assert row.pop("text") == "line 3: BEGIN:VEVENT\n" + event + "\nEND:VEVENT"
    assert row == {
        "line": 1,
        "booking": "b-17@room",
        "uid": "b-17@room",
        "recurrence_id": None,
        "starts": "2031-03-09T19:00:00Z",
        "ends": "2031-03-09T20:00:00Z",
        "summary": "Harbour News, part 2",
        "location": "VT3",
        "description": "Reel R7\nProtect on VT4",
        "categories": "AIR, NEWS, with, comma",
        "status": "CONFIRMED",
        "transp": "OPAQUE",
        "class": "PUBLIC",
        "sequence": "3",
        "organizer": "mailto:planning@example.com",
        "url": "http://example.com/b;17,x",
        "X-REEL": "R7",
        "X-ROLE": "air",
    }


def test_rows_are_numbered_by_the_lines_of_their_events_and_their_starts() -> None:
    told = _read(
        _calendar(
            "UID:late\nDTSTART:20310401T100000Z",
            _recurring("FREQ=DAILY;COUNT=2"),
            "UID:early\nDTSTART:20310101T100000Z",
        )
    )
    assert [(row["line"], row["text"].partition(":")[0], row["booking"]) for row in told.rows] == [
        (1, "line 3", "late"),
        (2, "line 7", "a/20310309T190000Z"),
        (3, "line 7", "a/20310310T190000Z"),
        (4, "line 13", "early"),
    ]


def test_a_calendar_exported_again_gives_the_same_cells_on_other_lines() -> None:
    events = _recurring("FREQ=DAILY;COUNT=2"), f"UID:b\n{EVENING}"
    first, again = _read(_calendar(*events)), _read(_calendar(*events, head="X-NOTE:again\n"))
    assert [row.pop("text")[:7] for row in first.rows] == ["line 3:", "line 3:", "line 9:"]
    assert [row.pop("text")[:8] for row in again.rows] == ["line 4: ", "line 4: ", "line 10:"]
    assert first.rows == again.rows


@pytest.mark.parametrize(
    ("start", "starts"),
    [
        ("DTSTART:20310309T200000Z", "2031-03-09T20:00:00Z"),
        ("DTSTART:20310309T200000", "2031-03-09T19:00:00Z"),  # floating: in the feed's zone
        ("DTSTART;VALUE=DATE:20310309", "2031-03-08T23:00:00Z"),  # midnight of Stockholm
        ("DTSTART:20310309", "2031-03-08T23:00:00Z"),
        ("DTSTART;TZID=America/New_York:20310309T200000", "2031-03-10T00:00:00Z"),  # summer time began that morning
        ('DTSTART;TZID="America/New_York":20310308T200000', "2031-03-09T01:00:00Z"),
        ("DTSTART;TZID=America/New_York:20310309T200000Z", "2031-03-09T20:00:00Z"),  # section 3.2.19: UTC has no TZID
        ("DTSTART;TZID=/example.org/20310101_1/America/New_York:20310308T200000", "2031-03-09T01:00:00Z"),
        ("DTSTART;TZID=Eastern Standard Time:20310308T200000", "2031-03-09T01:00:00Z"),  # windowsZones of CLDR
        ("DTSTART:20310309T235960Z", "2031-03-09T23:59:59Z"),  # section 3.3.12: second 60 as 59 where none is supported
    ],
)
def test_times_of_each_form(start: str, starts: str) -> None:
    assert _read(_calendar(f"UID:a\n{start}")).starts == [starts]


def test_floating_recurrence_keeps_the_local_time_of_the_zone() -> None:
    told = _read(_calendar("UID:a\nDTSTART:20310329T200000\nDURATION:PT1H\nRRULE:FREQ=DAILY;UNTIL=20310330T200000"))
    assert told.starts == ["2031-03-29T19:00:00Z", "2031-03-30T18:00:00Z"]


def test_times_without_a_zone_are_in_the_one_the_calendar_names_and_dates_in_the_feeds() -> None:
    head = "X-WR-TIMEZONE:America/New_York\n"
    told = _read(_calendar("UID:a\nDTSTART:20310308T200000", "UID:b\nDTSTART;VALUE=DATE:20310309", head=head))
    assert told.starts == ["2031-03-09T01:00:00Z", "2031-03-08T23:00:00Z"]
    assert [(row["kind"], row["line"]) for row in told.findings] == [("decided", 1)]
    assert "America/New_York" in told.findings[0]["what"]
    zoned = _read(_calendar(f"UID:a\n{EVENING}", head=head))
    assert zoned.findings == []
    unknown = _read(_calendar("UID:a\nDTSTART:20310308T200000", head="X-WR-TIMEZONE:Elsewhere\n"))
    assert unknown.starts == ["2031-03-08T19:00:00Z"]
    assert 'X-WR-TIMEZONE "Elsewhere" is not known' in unknown.findings[0]["what"]


ROOM_ZONE = """BEGIN:VTIMEZONE
TZID:Room
BEGIN:STANDARD
DTSTART:16010101T000000
TZOFFSETFROM:{offset}
TZOFFSETTO:{offset}
END:STANDARD
END:VTIMEZONE
"""


def test_each_calendar_of_a_file_has_its_own_zones() -> None:
    event = "UID:{}\nDTSTART;TZID=Room:20310309T200000"
    data = _calendar(event.format("a"), head=ROOM_ZONE.format(offset="+0300"))
    data += _calendar(event.format("b"), head=ROOM_ZONE.format(offset="-0330"))
    data += _calendar(event.format("c"))
    told = _read(data)
    assert told.starts == ["2031-03-09T17:00:00Z", "2031-03-09T23:30:00Z"]
    assert len(told.reasons) == 1
    assert '"Room"' in told.reasons[0]
    assert _read(_calendar(event.format("c"))).starts == []  # nothing is remembered from file to file


@pytest.mark.parametrize(
    "broken",
    [
        "TZOFFSETTO:+9900",
        "TZOFFSETTO:+0100\nRRULE:FREQ=SECONDLY",
        "TZOFFSETTO:+0100\nRRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
        "TZOFFSETTO:+0100\nRRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTHDAY=20;BYMONTH=3",
        "TZOFFSETTO:+0100\nDTSTART:nothing",
        "X-NO:offset",
    ],
)
def test_a_damaged_time_zone_spoils_only_the_events_in_it(broken: str) -> None:
    head = f"BEGIN:VTIMEZONE\nTZID:Room\nBEGIN:STANDARD\nDTSTART:19700101T000000\nTZOFFSETFROM:+0200\n{broken}\n"
    head += "END:STANDARD\nEND:VTIMEZONE\n"
    told = _read(_calendar("UID:a\nDTSTART;TZID=Room:20310309T200000", f"UID:b\n{EVENING}", head=head))
    assert told.bookings == ["b"]
    assert '"Room"' in told.reasons[0]


@pytest.mark.parametrize(
    ("event", "words"),
    [
        ("UID:a", "no DTSTART"),
        ("UID:a\nDTSTART:soon", 'DTSTART "SOON" is no time'),
        ("UID:a\nDTSTART:20310231T100000Z", "is no time"),
        ("UID:a\nDTSTART:20310309T200000-0800", "is no time"),
        ("UID:a\nDTSTART:99990309T200000Z", "is no time"),
        ("UID:a\nDTSTART:20310309T200000\x00Z", "NUL"),
        ("UID:a\nDTSTART;TZID=Nowhere/Land:20310309T200000", '"Nowhere/Land"'),
        ("UID:a\nDTSTART;TZID=Europe:20310309T200000", '"Europe"'),
        ("UID:a\nDTSTART;TZID=../../etc/passwd:20310309T200000", "not known"),
        ("UID:a\nDTSTART:20310309T200000Z\nDTSTART:20310310T200000Z", "different DTSTART"),
        ("UID:a\nDTSTART:20310309T200000Z\nDTEND:20310309T195959Z", "ends before its start"),
        ("UID:a\nDTSTART:20310309T200000Z\nDTEND:x", "DTEND"),
        ("UID:a\nDTSTART:20310309T200000Z\nDURATION:-PT1S", "negative"),
        ("UID:a\nDTSTART:20310309T200000Z\nDURATION:1h", "no duration"),
        ("UID:a\nDTSTART:20310309T200000Z\nDURATION:P999999W", "year"),
        ("UID:a\nDTSTART:20310309T200000Z\nRDATE:never", "RDATE"),
        ("UID:a\nDTSTART:20310309T200000Z\nEXDATE:never", "EXDATE"),
        ("UID:a\nDTSTART:20310309T200000Z\nRECURRENCE-ID:never", "RECURRENCE-ID"),
        ("UID:a\nDTSTART:20310309T200000Z\nRRULE:FREQ=SOMETIMES", 'RRULE "FREQ=SOMETIMES"'),
        ("UID:a\nDTSTART:20310309T200000Z\nRRULE:FREQ=DAILY;INTERVAL=0", "INTERVAL"),
        ("UID:a\nDTSTART:20310309T200000Z\nRRULE:FREQ=DAILY;COUNT=0", "COUNT"),
        ("UID:a\nDTSTART:20310309T200000Z\nRRULE:FREQ=DAILY;COUNT=2;UNTIL=20310401", "COUNT"),
        ("UID:a\nDTSTART:20310309T200000Z\nRRULE:FREQ=MONTHLY;BYDAY=53MO", "cannot be followed"),
        ("UID:a\nDTSTART:20310309T200000Z\nRRULE:", "RRULE"),
    ],
)
def test_an_event_that_cannot_be_read_is_set_aside_and_spoils_no_other(event: str, words: str) -> None:
    told = _read(_calendar("UID:x\nDTSTART:20310309T100000Z", event, "UID:y\nDTSTART:20310309T110000Z"))
    assert told.bookings == ["x", "y"]
    assert len(told.reasons) == 1
    assert words in told.reasons[0]
    assert told.aside[0]["text"].startswith("line 7: BEGIN:VEVENT\nUID:a")


@pytest.mark.parametrize("method", ["REPLY", "REFRESH", "COUNTER", "DECLINECOUNTER"])
def test_an_answer_about_an_event_is_no_version_of_it(method: str) -> None:
    answer = _calendar(f"UID:a\nSEQUENCE:9\n{EVENING}", head=f"METHOD:{method}\n")  # RFC 5546 section 3.2
    told = _read(_calendar(f"UID:a\nSEQUENCE:0\n{EVENING}") + answer)
    assert told.bookings == ["a"]
    assert told.reasons == [f"The event is an answer about one (METHOD:{method}), no booking."]


def test_what_is_no_event_is_no_row() -> None:
    others = "".join(f"BEGIN:{name}\nUID:x\nDTSTART:20310309T100000Z\nEND:{name}\n" for name in ("VTODO", "VJOURNAL"))
    others += "BEGIN:VFREEBUSY\nFREEBUSY:20310309T100000Z/PT3H\nEND:VFREEBUSY\n"
    assert _read(_calendar(f"UID:a\n{EVENING}", head=others)).bookings == ["a"]


def test_an_event_without_a_uid_is_a_row_without_a_booking() -> None:
    told = _read(_calendar(EVENING, f"{EVENING}RRULE:FREQ=DAILY;COUNT=2"))
    assert told.bookings == [None, None, None]
    assert [row["recurrence_id"] for row in told.rows] == [None, "2031-03-09T19:00:00Z", "2031-03-10T19:00:00Z"]


@pytest.mark.parametrize(
    ("first", "second", "kept", "why"),
    [
        ("SEQUENCE:1", "SEQUENCE:10", "second", "SEQUENCE is higher"),
        ("SEQUENCE:2", "", "first", "SEQUENCE is higher"),
        ("DTSTAMP:20310102T000000Z", "DTSTAMP:20310101T000000Z", "first", "DTSTAMP is later"),
        ("", "", "second", "further down"),
    ],
)
def test_of_two_versions_one_holds(first: str, second: str, kept: str, why: str) -> None:
    told = _read(
        _calendar(f"UID:a\n{EVENING}SUMMARY:first\n{first}", f"UID:a\n{EVENING}SUMMARY:second\n{second}", "UID:b")
    )
    assert [row["summary"] for row in told.rows] == [kept]
    assert why in told.reasons[0]
    assert "Replaced by the event of the same UID on line" in told.reasons[0]


def test_cancelled_events_have_no_booking() -> None:
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=5", "STATUS:CANCELLED"), f"UID:b\n{EVENING}"))
    assert (told.bookings, told.reasons) == (["b"], [CANCELLED])
    told = _read(_calendar(f"UID:b\n{EVENING}", head="METHOD:CANCEL\n"))
    assert (told.bookings, told.reasons) == (
        [],
        ["cancelled: the event is cancelled (its calendar says METHOD:CANCEL)."],
    )


def test_a_change_for_all_that_follow_moves_them_and_keeps_their_ids() -> None:
    """RFC 5545 section 3.2.13: later ones are moved by the same time, and last as long as the changed one."""
    change = (
        "UID:a\nRECURRENCE-ID;RANGE=THISANDFUTURE;TZID=Europe/Stockholm:20310311T200000\n"
        "DTSTART;TZID=Europe/Stockholm:20310311T213000\nDURATION:PT2H\nSUMMARY:later"
    )
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=4"), change))
    assert [(row["booking"], row["starts"], row["ends"], row["summary"]) for row in told.rows] == [
        ("a/20310309T190000Z", "2031-03-09T19:00:00Z", "2031-03-09T20:00:00Z", None),
        ("a/20310310T190000Z", "2031-03-10T19:00:00Z", "2031-03-10T20:00:00Z", None),
        ("a/20310311T190000Z", "2031-03-11T20:30:00Z", "2031-03-11T22:30:00Z", "later"),
        ("a/20310312T190000Z", "2031-03-12T20:30:00Z", "2031-03-12T22:30:00Z", "later"),
    ]
    off = change.replace("SUMMARY:later", "STATUS:CANCELLED")
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=4"), off))
    assert (len(told.rows), told.reasons) == (2, [CANCELLED])


def test_exdate_takes_out_one_occurrence_even_of_an_hourly_event() -> None:
    """19:00Z is 20:00 in Stockholm: the occurrence of 19:00 local time, whose digits are the same, stays."""
    event = "UID:a\nDTSTART;TZID=Europe/Stockholm:20310309T180000\nRRULE:FREQ=HOURLY;COUNT=4\nEXDATE:20310309T190000Z"
    hours = [start[11:13] for start in _read(_calendar(event)).starts]
    assert hours == ["17", "18", "20"]


@pytest.mark.parametrize(
    "exdate",
    [
        "EXDATE;TZID=Europe/Stockholm:20310310T200000",
        "EXDATE:20310310T190000Z",
        "EXDATE:20310310T200000",
        "EXDATE;VALUE=DATE:20310310",
        "EXDATE;TZID=America/New_York:20310310T150000",  # 15:00 EDT
        "EXDATE:20310301T000000Z,\n 20310310T190000Z",
    ],
)
def test_exdate_in_any_form(exdate: str) -> None:
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=3", exdate)))
    assert told.starts == ["2031-03-09T19:00:00Z", "2031-03-11T19:00:00Z"]


def test_times_without_a_zone_mean_the_one_of_dtstart() -> None:
    event = "UID:a\nDTSTART;TZID=America/New_York:20310101T200000\nDTEND:20310101T210000\nRRULE:FREQ=DAILY;COUNT=3\n"
    told = _read(_calendar(f"{event}EXDATE:20310102T200000"))
    # 20:00 EST is 01:00Z of the next day.
    assert [(row["starts"], row["ends"]) for row in told.rows] == [
        ("2031-01-02T01:00:00Z", "2031-01-02T02:00:00Z"),
        ("2031-01-04T01:00:00Z", "2031-01-04T02:00:00Z"),
    ]


@pytest.mark.parametrize("original", ["RECURRENCE-ID;VALUE=DATE:20310310", "RECURRENCE-ID:20310310T000000Z"])
def test_a_day_that_is_moved(original: str) -> None:
    change = f"UID:a\n{original}\nDTSTART;TZID=Europe/Stockholm:20310310T080000\nDURATION:PT1H"
    told = _read(_calendar("UID:a\nDTSTART;VALUE=DATE:20310309\nRRULE:FREQ=DAILY;COUNT=3", change))
    assert sorted((row["starts"], row["ends"]) for row in told.rows) == [
        ("2031-03-08T23:00:00Z", "2031-03-09T23:00:00Z"),
        ("2031-03-10T07:00:00Z", "2031-03-10T08:00:00Z"),
        ("2031-03-10T23:00:00Z", "2031-03-11T23:00:00Z"),
    ]


def test_a_period_that_ends_before_it_begins_is_set_aside() -> None:
    told = _read(_calendar(f"UID:a\n{EVENING}RDATE;VALUE=PERIOD:20310312T190000Z/20310312T180000Z"))
    assert told.starts == ["2031-03-09T19:00:00Z"]
    assert told.reasons == ["Its period of 2031-03-12T19:00:00Z in RDATE ends before it begins. Mend it there."]


def test_a_zone_with_summer_time_alone_is_read_before_its_first_change_too() -> None:
    change = "BEGIN:DAYLIGHT\nDTSTART:{}0330T020000\nTZOFFSETFROM:+0100\nTZOFFSETTO:+0200\nEND:DAYLIGHT\n"
    head = f"BEGIN:VTIMEZONE\nTZID:Room\n{change.format(2030)}{change.format(2025)}END:VTIMEZONE\n"
    told = _read(_calendar(*(f"UID:{year}\nDTSTART;TZID=Room:{year}0601T120000" for year in (1999, 2031)), head=head))
    assert told.starts[1] == "2031-06-01T10:00:00Z"
    assert told.reasons == []


def test_an_event_of_which_nothing_is_left_is_set_aside() -> None:
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=2", "EXDATE;VALUE=DATE:20310309,20310310")))
    assert (told.rows, len(told.aside)) == ([], 1)
    assert "EXDATE" in told.reasons[0]
    change = f"UID:a\nRECURRENCE-ID:20310310T190000Z\n{EVENING}"
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=2", "EXDATE:20310310T190000Z"), change))
    assert told.starts == ["2031-03-09T19:00:00Z"]
    assert told.reasons == ["EXDATE of the event on line 3 takes this occurrence out."]


def test_a_changed_occurrence_alone_is_a_row() -> None:
    told = _read(_calendar(f"UID:a\nRECURRENCE-ID:20310308T190000Z\n{EVENING}"))
    assert told.bookings == ["a/20310308T190000Z"]
    assert told.starts == ["2031-03-09T19:00:00Z"]


@pytest.mark.parametrize(
    ("until", "count"),
    [
        ("20310311", 3),  # a date among times: all of that day
        ("20310311T190000Z", 3),
        ("20310311T185959Z", 2),
        ("20310311T200000", 3),  # without a zone: on the local clock
        ("20310311T195959", 2),
    ],
)
def test_until_in_any_form(until: str, count: int) -> None:
    assert len(_read(_calendar(_recurring(f"FREQ=DAILY;UNTIL={until}"))).rows) == count


def test_recurrence_without_an_end_is_read_to_the_day_asked_for() -> None:
    told = _read(_calendar(_recurring("FREQ=DAILY")), until=date(2031, 4, 2))
    days = [date(2031, 3, 9) + timedelta(days=k) for k in range(24)]  # to April 1: midnight of the 2nd is not included
    assert told.starts == [f"{day}T{19 if day < date(2031, 3, 30) else 18}:00:00Z" for day in days]
    assert told.findings == []


@pytest.mark.parametrize(
    "later", ["", "DTSTAMP:20310419T190000Z", "CREATED:20310419T190000Z", "RDATE:20310419T190000Z"]
)
def test_recurrence_without_an_end_is_read_to_400_days_after_the_newest_time(later: str) -> None:
    told = _read(_calendar(_recurring("FREQ=WEEKLY", later)))
    newest = datetime(2031, 4, 19 if later else 9, tzinfo=UTC).replace(month=4 if later else 3)
    last = max(datetime.fromisoformat(start) for start in told.starts).replace(hour=0)
    assert timedelta(0) <= newest + timedelta(days=400) - last < timedelta(days=8)
    assert [row["kind"] for row in told.findings] == ["decided"]
    assert "Set until" in told.findings[0]["what"]


@pytest.mark.parametrize(
    "rule", ["FREQ=WEEKLY;UNTIL=99991231T235959Z", "FREQ=WEEKLY;COUNT=999999999", "FREQ=YEARLY;UNTIL=99991231"]
)
def test_an_end_that_is_none_is_taken_for_none(rule: str) -> None:
    endless = rule.partition(";")[0]
    assert _read(_calendar(_recurring(rule))).starts == _read(_calendar(_recurring(endless))).starts


FREQUENCIES = ("YEARLY", "MONTHLY", "WEEKLY", "DAILY", "HOURLY", "MINUTELY", "SECONDLY")
NEVER = "BYMONTH=2;BYMONTHDAY=30"
TIMES = f"BYHOUR={','.join(map(str, range(24)))};BYMINUTE={','.join(map(str, range(60)))}"


@pytest.mark.timeout(60)  # of a machine that has other work; what the program itself may take is checked below
@pytest.mark.parametrize(
    "rule",
    [
        *("FREQ=SECONDLY", "FREQ=SECONDLY;COUNT=1000000000", "FREQ=MINUTELY;UNTIL=99991231T000000Z"),
        *(
            f"FREQ={name};{NEVER}"
            for name in ("YEARLY", "MONTHLY", "WEEKLY", "DAILY", "HOURLY", "MINUTELY", "SECONDLY")
        ),
        *(f"FREQ={name};{NEVER};COUNT=5" for name in ("YEARLY", "DAILY", "HOURLY", "SECONDLY")),
        f"FREQ=SECONDLY;{NEVER};UNTIL=99991231",
        "FREQ=SECONDLY;INTERVAL=61;BYSECOND=0;BYMINUTE=61",
        "FREQ=MINUTELY;INTERVAL=1440;BYHOUR=3",
        f"FREQ=DAILY;{TIMES}",
        f"FREQ=DAILY;{TIMES};BYSECOND={','.join(map(str, range(60)))}",
        f"FREQ=YEARLY;BYDAY=MO,TU,WE,TH,FR,SA,SU;BYSETPOS={','.join(map(str, range(1, 367)))};COUNT=999999",
        f"FREQ=YEARLY;{NEVER};BYYEARDAY={','.join(map(str, range(1, 366)))}",
        "FREQ=DAILY;INTERVAL=999999999999",
        "FREQ=DAILY;INTERVAL=146000;COUNT=9999",
        f"FREQ=DAILY;BYMONTHDAY={','.join(['1'] * 30_000)}",
    ],
)
def test_no_rule_hangs(rule: str) -> None:
    began = time.process_time()
    told = _read(_calendar(_recurring(rule), f"UID:b\n{EVENING}"))
    assert time.process_time() - began < 4
    assert "b" in told.bookings
    assert len(told.rows) <= 10_001
    assert all(row["text"].startswith("line 3: ") for row in told.aside)


def test_the_rest_of_an_event_with_too_many_occurrences_is_set_aside() -> None:
    told = _read(_calendar("UID:a\nDTSTART:20310309T190000Z\nRRULE:FREQ=HOURLY"), until=date(2033, 1, 1))
    assert len(told.rows) == 10_000
    # 9,999 h are 416 days and 15 h; 366 days after 2031-03-09 is 2032-03-09, and 50 more 2032-04-28.
    assert told.reasons[0].startswith(
        "The occurrences after 2032-04-29T10:00:00Z are left out: an event is read to 10,000"
    )
    assert "Set until in its [[feeds]] table to a day before 2032-12-31" in told.reasons[0]
    slow = _read(_calendar(_recurring(f"FREQ=SECONDLY;{NEVER}")))
    assert "too many steps" in slow.reasons[0]


@pytest.mark.slow
def test_a_file_of_too_many_occurrences_keeps_its_single_events() -> None:
    events = [f"UID:{k}\n{EVENING}RRULE:FREQ=MINUTELY;COUNT=9000" for k in range(7)]
    told = _read(_calendar(*events, f"UID:last\n{EVENING}"))
    assert len(told.rows) == 50_001
    assert told.bookings[-1] == "last"
    assert len(told.reasons) == 2
    assert all("a file is read to 50,000 occurrences" in reason for reason in told.reasons)


@pytest.mark.parametrize("ends", [b"\r\n", b"\n", b"\r", b"\r\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf", b"\r\n\r\n"])
def test_line_ends_and_byte_order_marks(ends: bytes, mark: bytes) -> None:
    data = _calendar(f"UID:a\n{EVENING}DESCRIPTION:one\n  two").encode().replace(b"\n", ends)
    if ends == b"\r\r\n":  # blank lines between: the fold is then no fold, and the line stands alone
        data = data.replace(b"\r\r\n  two", b" two")
    told = _read(mark + data + mark + data)
    assert [row["description"] for row in told.rows] == ["one two"]
    assert len(told.reasons) == 1


@pytest.mark.parametrize(
    "data", [b"BEGIN:VEVENT\r\n", b"machine,event\r\n", b"\x00\x01", b"PK\x03\x04", b" BEGIN:VCARD"]
)
def test_a_file_that_is_no_calendar_is_refused(data: bytes) -> None:
    with pytest.raises(FeedError, match=r"^rota\.ics is no calendar\. Expected it to begin with BEGIN:VCALENDAR\.$"):
        _read(data)


def test_a_calendar_without_events_has_no_rows() -> None:
    for data in (b"", b"\r\n", _calendar()):
        told = _read(data)
        assert (told.rows, told.aside, told.headers) == ([], [], [])


def test_a_file_that_is_cut_off_keeps_what_stands_before() -> None:
    whole = (
        _calendar("UID:a\nDTSTART:20310309T100000Z", "UID:b\nDTSTART:20310309T110000Z").replace("\n", "\r\n").encode()
    )
    for end in range(whole.index(b"UID:b"), whole.rindex(b"END:VEVENT") + 9):
        told = _read(whole[:end])
        assert told.bookings == ["a"]
        assert len(told.reasons) == 1
        assert "no END:VEVENT" in told.reasons[0]
    missing = _read(whole.replace(b"END:VEVENT\r\n", b"", 1))
    assert missing.bookings == ["b"]
    assert "no END:VEVENT" in missing.reasons[0]


def test_bytes_that_are_no_text_spoil_one_event() -> None:
    data = _calendar("UID:a\nDTSTART:20310309T100000Z\nSUMMARY:?", "UID:b\nDTSTART:20310309T110000Z").encode()
    told = _read(data.replace(b"?", b"\xff\xfe"))
    assert told.bookings == ["b"]
    assert "not UTF-8" in told.reasons[0]
    assert "SUMMARY:\\xff\\xfe" in told.aside[0]["text"]


@pytest.mark.parametrize("folded", [True, False])
def test_a_description_of_100_mb_is_kept_in_part(folded: bool) -> None:
    letters = b"\xc3\xa9" * 50_000_000
    if folded:
        letters = b"\r\n ".join(letters[k : k + 1000] for k in range(0, len(letters), 1000))
    event = b"BEGIN:VEVENT\r\nUID:a\r\nDESCRIPTION:" + letters + b"\r\nDTSTART:20310309T100000Z\r\nEND:VEVENT\r\n"
    began = time.process_time()
    told = _read(b"BEGIN:VCALENDAR\r\n" + event + b"END:VCALENDAR\r\n")
    assert time.process_time() - began < 10
    row = told.rows[0]
    assert row["starts"] == "2031-03-09T10:00:00Z"
    assert set(row["description"]) == {"é"}
    assert 32_000 < len(row["description"]) <= 32_768  # half of 64 KiB, less the name
    assert row["text"].endswith("more bytes]")
    assert len(row["text"]) < 70_000
    assert [row["kind"] for row in told.findings] == ["cut"]


SPRING = date(2031, 4, 1)
ONWARD = f"UID:a\nRECURRENCE-ID;RANGE=THISANDFUTURE:{{}}T190000Z\n{EVENING}"


@pytest.mark.parametrize(
    ("events", "words"),
    [
        ([f"UID:a\n{EVENING}" + f"SUMMARY:{'x' * 60_000}\n" * 20], "longer than 1 MiB"),
        ([f"UID:a\n{EVENING}" + "".join(f"X-N{k}:v\n" for k in range(501))], "more than 500 X- properties"),
        ([_recurring("FREQ=DAILY;COUNT=2", "EXDATE:20310401T190000Z\n" * 10_001)], "more than 10,000 dates"),
        ([_recurring("FREQ=DAILY;COUNT=2", "RRULE:FREQ=DAILY\n" * 10)], "more than 10,000 dates or 10 rules"),
        (
            [
                _recurring("FREQ=DAILY"),
                *(ONWARD.format(f"{date(2031, 4, 1) + timedelta(k):%Y%m%d}") for k in range(201)),
            ],
            "more than 200 times",
        ),
    ],
)
def test_an_event_beyond_all_measure_is_set_aside_and_spoils_no_other(events: list[str], words: str) -> None:
    told = _read(_calendar(*events, f"UID:b\n{EVENING}"))
    assert told.bookings == ["b"]
    assert len(told.reasons) == len(events)
    assert all(words in reason for reason in told.reasons)


def test_a_file_beyond_all_measure_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calendar_blocks, "MOST_KEPT", 100_000)
    event = f"UID:a\n{EVENING}DESCRIPTION:{'x' * 10_000}"
    assert len(_read(_calendar(*[event] * 4)).reasons) == 3
    with pytest.raises(FeedError, match="shorter spans"):
        _read(_calendar(*[event] * 5))
    with pytest.raises(FeedError, match="shorter spans"):
        _read(_calendar(head="BEGIN:VTIMEZONE\n" + f"X-NOTE:{'x' * 1_000}\n" * 101 + "END:VTIMEZONE\n"))


def test_a_calendar_that_counts_in_other_days_is_set_aside() -> None:
    told = _read(_calendar(f"UID:a\n{EVENING}", head="CALSCALE:JULIAN\n"))
    assert told.reasons == ['The calendar counts by CALSCALE "JULIAN". Expected GREGORIAN.']
    assert _read(_calendar(f"UID:a\n{EVENING}", head="CALSCALE:gregorian\n")).bookings == ["a"]


def test_a_long_list_of_dates_is_never_cut_without_a_word() -> None:
    dates = ",".join(["20310401T190000Z"] * 5_000)  # 85 kB in one line
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=2", f"EXDATE:{dates}"), f"UID:b\n{EVENING}"))
    assert told.bookings == ["b"]
    assert "EXDATE is" in told.reasons[0]


def test_events_are_read_quickly() -> None:
    """5,000 events with ten properties each take under a second of a processor here; thrice that is allowed."""
    events = [
        f"UID:{k}@room\nDTSTAMP:20310101T000000Z\n{EVENING}SUMMARY:Harbour News {k}\\, live\nLOCATION:VT{k % 8}\n"
        f"DESCRIPTION:one\\ntwo\n  and three\nCATEGORIES:A,B\nX-REEL:R{k}\nSTATUS:CONFIRMED\nSEQUENCE:0"
        for k in range(5_000)
    ]
    data = _calendar(*events)
    began = time.process_time()
    told = _read(data)
    assert time.process_time() - began < 3
    assert len(told.rows) == 5_000


def test_batches_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calendar_reader, "ROWS_IN_A_BATCH", 3)
    told = _read(_calendar(*(f"UID:{k}\n{EVENING}X-N{k % 5}:v{k}" for k in range(10))))
    assert len(told.headers) == 4
    assert told.headers[0][-3:] == ("X-N0", "X-N1", "X-N2")
    assert [row.get(f"X-N{k % 5}") for k, row in enumerate(told.rows)] == [f"v{k}" for k in range(10)]


def test_batches_are_bounded_in_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calendar_reader, "NAMES_IN_A_BATCH", 20)
    told = _read(_calendar(*(f"UID:{k}\n{EVENING}" + "".join(f"X-{k}-{n}:v\n" for n in range(15)) for k in range(6))))
    assert [len(headers) - len(calendar_reader.HEADERS) for headers in told.headers] == [30, 30, 30]
    assert all(row[f"X-{k}-14"] == "v" for k, row in enumerate(told.rows))


def test_batches_are_bounded_in_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calendar_reader, "LETTERS_IN_A_BATCH", 1_000)
    told = _read(_calendar(*(f"UID:{k}\n{EVENING}DESCRIPTION:{'x' * 600}" for k in range(6))))
    assert len(told.headers) == 6
    assert told.bookings == [str(k) for k in range(6)]


def test_long_texts_of_many_occurrences_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calendar_reader, "MOST_OF_AN_EVENT", 10_000)
    told = _read(_calendar(_recurring("FREQ=DAILY;COUNT=10", f"DESCRIPTION:{'x' * 5_000}")))
    assert sum(len(row["text"]) + len(row["description"]) for row in told.rows) <= 10_000
    assert len(told.starts) == 10


# What the library itself writes and how it reads it back, by its own front door, is the second answer from here on.


def _by_the_library(calendar: icalendar.Calendar) -> list[tuple[str, str]]:
    found = recurring_ical_events.of(calendar).between(date(2030, 1, 1), date(2050, 1, 1))
    return sorted(tuple(_utc(each[name].dt) for name in ("DTSTART", "DTEND")) for each in found)


def _utc(when: date) -> str:
    wall = when if isinstance(when, datetime) else datetime(when.year, when.month, when.day, tzinfo=STOCKHOLM)
    return wall.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


@st.composite
def _rules(draw: st.DrawFn) -> dict[str, Any]:
    rule: dict[str, Any] = {"FREQ": draw(st.sampled_from(["DAILY", "WEEKLY", "MONTHLY"]))}
    rule["COUNT"] = draw(st.integers(1, 30))
    rule["INTERVAL"] = draw(st.integers(1, 3))
    if draw(st.booleans()):
        rule["BYDAY"] = draw(st.lists(st.sampled_from(["MO", "TU", "WE", "TH", "FR"]), min_size=1, unique=True))
    if draw(st.booleans()):
        rule["WKST"] = draw(st.sampled_from(["MO", "SU"]))
    return rule


@given(
    rule=_rules(),
    start=st.datetimes(datetime(2031, 1, 1), datetime(2031, 2, 1)).map(lambda at: at.replace(microsecond=0)),  # noqa: DTZ001
    kind=st.sampled_from(["utc", "date", "fixed"]),
    skipped=st.integers(0, 5),
)
@settings(max_examples=60, deadline=None)
def test_recurrence_is_the_librarys_answer(rule: dict[str, Any], start: datetime, kind: str, skipped: int) -> None:
    """In zones without clock changes, where how long an occurrence lasts is not in question either."""
    zone = {"utc": UTC, "fixed": ZoneInfo("Asia/Kolkata")}.get(kind)
    begins: date = start.replace(tzinfo=zone) if zone else start.date()
    event = icalendar.Event()
    event.add("uid", "u@example.com")
    event.add("dtstart", begins)
    event.add("dtend", begins + timedelta(days=1))
    event.add("rrule", rule)
    event.add("exdate", begins + timedelta(days=skipped))
    event.add("summary", "Räksmörgås, live; and more\nof it" * 5)
    calendar = icalendar.Calendar()
    calendar.add("version", "2.0")
    calendar.add_component(event)
    told = _read(calendar.to_ical())
    found = _by_the_library(calendar)
    if kind == "date":  # midnights of Stockholm
        assert [(row["starts"], row["ends"]) for row in told.rows] == found
    assert sorted((row["starts"], row["ends"]) for row in told.rows) == found
    assert all(row["summary"] == ("Räksmörgås, live; and more\nof it" * 5) for row in told.rows)
    assert len(set(told.bookings)) == len(told.bookings)


SAMPLE = _calendar(
    _recurring("FREQ=DAILY;COUNT=5", "EXDATE;TZID=Europe/Stockholm:20310310T200000\nRDATE:20310320T190000Z"),
    f"UID:a\nRECURRENCE-ID:20310311T190000Z\n{EVENING}STATUS:CANCELLED",
    'UID:b\nDTSTART;TZID=Room:20310309T200000\nDURATION:P1DT2H\nSUMMARY:Räksmörgås\\, live\nX-REEL;X-P="a:b":R1',
    "UID:c\nDTSTART;VALUE=DATE:20310309\nRRULE:FREQ=MONTHLY;BYDAY=-1FR\nBEGIN:VALARM\nTRIGGER:-PT1M\nEND:VALARM",
    head=ROOM_ZONE.format(offset="+0300"),
) + _calendar("UID:d\nSEQUENCE:2", head="METHOD:CANCEL\n")
PIECES = [
    *(b"", b"\x00", b"\xff", b"\r", b"\n", b"\r\n ", b";", b":", b",", b'"', b"9", b"Z", b"T", b"-", b"=", b"\\"),
    *(b"BEGIN:VEVENT\r\n", b"END:VEVENT\r\n", b"BEGIN:VCALENDAR\r\n", b"END:VTIMEZONE\r\n", b"BEGIN:X\r\n"),
    *(b"RRULE:FREQ=SECONDLY;INTERVAL=7\r\n", b"RRULE:FREQ=YEARLY;BYMONTHDAY=31;BYMONTH=2\r\n", b"SECONDLY", b"COUNT="),
    *(b"RECURRENCE-ID;RANGE=THISANDFUTURE:20310312T190000Z\r\n", b"99999999", b"00000000T000000", b"TZID=Room"),
    *(b"DURATION:P99999D\r\n", b"EXDATE:\r\n", b"RDATE;VALUE=PERIOD:20310309T190000Z/PT1H\r\n", b"\xc3\xa9"),
]


@st.composite
def _bent(draw: st.DrawFn) -> bytes:
    """The sample with a few places cut out, doubled or overwritten."""
    data = SAMPLE.replace("\n", "\r\n").encode()
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data)))
        end = start + draw(st.sampled_from([0, 0, 1, 2, 8, 30, 200]))
        piece = draw(st.one_of(st.sampled_from(PIECES), st.binary(max_size=4), st.just(data[start : end + 40])))
        data = data[:start] + piece + data[end:]
    return data


def _beginnings(data: bytes) -> set[int]:
    """The physical lines at which an event begins, found in another way than the reader's."""
    lines = re.split(rb"\r\n|\r|\n", data)
    is_folded = [line[:1] in (b" ", b"\t") and k > 0 for k, line in enumerate(lines)]
    goes_on = [*is_folded[1:], False]
    return {
        k + 1 for k, line in enumerate(lines) if line.upper() == b"BEGIN:VEVENT" and not is_folded[k] and not goes_on[k]
    }


@given(data=_bent())
@settings(max_examples=200, deadline=None)
def test_a_bent_calendar_loses_no_event(data: bytes) -> None:
    try:
        told = _read(data)
    except FeedError as error:
        assert "is no calendar" in str(error)  # noqa: PT017 - what is raised otherwise fails the test
        return
    lines = {int(row["text"].removeprefix("line ").partition(":")[0]) for row in (*told.rows, *told.aside)}
    assert _beginnings(data) <= lines
    assert all(reason.endswith(".") and "\n" not in reason for reason in told.reasons)
    assert all(
        re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", row[name]) for row in told.rows for name in ("starts", "ends")
    )
    assert all(row["starts"] <= row["ends"] for row in told.rows)


@given(data=st.binary(max_size=300))
@settings(max_examples=100, deadline=None)
def test_bytes_of_any_kind_are_refused_or_read(data: bytes) -> None:
    try:
        told = _read(data)
    except FeedError as error:
        assert "is no calendar" in str(error)  # noqa: PT017 - what is raised otherwise fails the test
    else:
        assert (told.rows, told.aside) == ([], [])
    _read(b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n" + data)
