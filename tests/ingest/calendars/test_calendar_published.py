"""Calendars against what RFC 5545 and RFC 5546 print: recurrence, zones, folding, durations, changed occurrences.

The examples named O-V1 to O-V8 are those of RFC 5545 section 3.8.5.3, with the dates printed there; O-V9 follows from
the clock changes of 2024 in the IANA time zone database. Sections are named beside each check.
"""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from pipeline.ingest.calendars.calendar_reader import read_calendar

Row = dict[str, str | None]
NEW_YORK = ZoneInfo("America/New_York")


def _read(text: str, zone: str = "Europe/Stockholm", until: date | None = None) -> tuple[list[Row], list[str]]:
    """The rows by header, and the reasons of what is set aside."""
    rows: list[Row] = []
    reasons: list[str] = []
    data = text.replace("\n", "\r\n").encode()
    for batch in read_calendar(io.BytesIO(data), "room.ics", ZoneInfo(zone), until=until):
        names = dict(zip(batch.rows.columns[2:], batch.headers, strict=True))
        rows += batch.rows.drop("line", "text").rename(names).to_dicts()
        reasons += batch.aside["reason"].to_list()
    return rows, reasons


def _calendar(*events: str, head: str = "") -> str:
    body = "".join(f"BEGIN:VEVENT\n{event.strip()}\nEND:VEVENT\n" for event in events)
    return f"BEGIN:VCALENDAR\nVERSION:2.0\n{head}{body}END:VCALENDAR\n"


def _starts(event: str, until: date | None = None, head: str = "") -> list[str | None]:
    rows, reasons = _read(_calendar(f"UID:u1@example.com\n{event}", head=head), until=until)
    assert reasons == []
    return [row["starts"] for row in rows]


def _nine_o_clock(*days: str) -> list[str]:
    """09:00 on days written yymmdd, the first after S or W for summer or winter time, as UTC: 13:00 or 14:00."""
    hour = {"S": 13, "W": 14}
    return [f"{_day(day[1:])}T{hour[day[0]]}:00:00Z" for day in days]


def _day(text: str) -> date:
    year = int(text[:2])
    return date(year + (1900 if year > 50 else 2000), int(text[2:4]), int(text[4:]))


PUBLISHED = {
    # O-V2, "Weekly for 10 occurrences": September 2, 9, ... October 21 in EDT; October 28, November 4 in EST.
    "O-V2": (
        "DTSTART;TZID=America/New_York:19970902T090000\nRRULE:FREQ=WEEKLY;COUNT=10",
        "S970902 S970909 S970916 S970923 S970930 S971007 S971014 S971021 W971028 W971104",
    ),
    # O-V3, "Weekly until December 24, 1997".
    "O-V3": (
        "DTSTART;TZID=America/New_York:19970902T090000\nRRULE:FREQ=WEEKLY;UNTIL=19971224T000000Z",
        (
            "S970902 S970909 S970916 S970923 S970930 S971007 S971014 S971021 W971028 W971104 W971111 W971118 W971125 "
            "W971202 W971209 W971216 W971223"
        ),
    ),
    # O-V4, "Monthly on the first Friday for 10 occurrences".
    "O-V4": (
        "DTSTART;TZID=America/New_York:19970905T090000\nRRULE:FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "S970905 S971003 W971107 W971205 W980102 W980206 W980306 W980403 S980501 S980605",
    ),
    # O-V5, "Weekly on Tuesday and Thursday for five weeks".
    "O-V5": (
        "DTSTART;TZID=America/New_York:19970902T090000\nRRULE:FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
        "S970902 S970904 S970909 S970911 S970916 S970918 S970923 S970925 S970930 S971002",
    ),
    # O-V6 and O-V7, "An example where the days generated makes a difference because of WKST".
    "O-V6": (
        "DTSTART;TZID=America/New_York:19970805T090000\nRRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        "S970805 S970810 S970819 S970824",
    ),
    "O-V7": (
        "DTSTART;TZID=America/New_York:19970805T090000\nRRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        "S970805 S970817 S970819 S970831",
    ),
    # O-V8, "An example where an invalid date (i.e., February 30) is ignored"; summer time began on March 11, 2007.
    "O-V8": (
        "DTSTART;TZID=America/New_York:20070115T090000\nRRULE:FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
        "W070115 W070130 W070215 S070315 S070330",
    ),
    # "Monthly on the 2nd and 15th of the month for 10 occurrences".
    "2nd and 15th": (
        "DTSTART;TZID=America/New_York:19970902T090000\nRRULE:FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        "S970902 S970915 S971002 S971015 W971102 W971115 W971202 W971215 W980102 W980115",
    ),
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_rules_give_the_dates_printed_in_section_3_8_5_3(name: str) -> None:
    event, days = PUBLISHED[name]
    # In 1998 summer time began on April 5, so April 3 is the last winter day of O-V4.
    assert _starts(event) == _nine_o_clock(*days.split())


def test_o_v1_daily_until_christmas_eve_crosses_the_end_of_summer_time() -> None:
    starts = _starts("DTSTART;TZID=America/New_York:19970902T090000\nRRULE:FREQ=DAILY;UNTIL=19971224T000000Z")
    # Printed: September 2-30, October 1-25 in EDT; October 26-31, November 1-30, December 1-23 in EST.
    summer = [date(1997, 9, 2) + timedelta(days=k) for k in range(29 + 25)]
    winter = [date(1997, 10, 26) + timedelta(days=k) for k in range(6 + 30 + 23)]
    assert starts == [f"{day}T13:00:00Z" for day in summer] + [f"{day}T14:00:00Z" for day in winter]
    assert len(starts) == 113


@pytest.mark.parametrize(
    ("event", "until", "days"),
    [
        (
            # "Every Friday the 13th, forever"; its EXDATE takes out the first instance, which is no Friday.
            (
                "DTSTART;TZID=America/New_York:19970902T090000\nEXDATE;TZID=America/New_York:19970902T090000\n"
                "RRULE:FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13"
            ),
            date(2000, 12, 31),
            "W980213 W980313 W981113 S990813 S001013",
        ),
        (
            # "The first Saturday that follows the first Sunday of the month, forever".
            "DTSTART;TZID=America/New_York:19970913T090000\nRRULE:FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
            date(1998, 6, 30),
            "S970913 S971011 W971108 W971213 W980110 W980207 W980307 S980411 S980509 S980613",
        ),
    ],
)
def test_rules_without_an_end_are_read_to_the_day_asked_for(event: str, until: date, days: str) -> None:
    assert _starts(event, until) == _nine_o_clock(*days.split())


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("America/New_York", "20240310", 23),
        ("America/New_York", "20241103", 25),
        ("Europe/London", "20240331", 23),
        ("Europe/London", "20241027", 25),
        ("Australia/Lord_Howe", "20241006", 23.5),
    ],
)
def test_o_v9_a_day_of_a_clock_change_has_its_true_length(zone: str, day: str, hours: float) -> None:
    rows, _ = _read(_calendar(f"UID:u1@example.com\nDTSTART;VALUE=DATE:{day}"), zone)
    assert _hours(rows[0]) == hours


def test_o_v9_the_days_of_march_2024_in_new_york_last_743_hours() -> None:
    event = "UID:u1@example.com\nDTSTART;VALUE=DATE:20240301\nRRULE:FREQ=DAILY;UNTIL=20240331"
    rows, _ = _read(_calendar(event), "America/New_York")
    assert sum(map(_hours, rows)) == 743  # 31 × 24 − 1
    whole, _ = _read(
        _calendar("UID:u1@example.com\nDTSTART;VALUE=DATE:20240301\nDTEND;VALUE=DATE:20240401"), NEW_YORK.key
    )
    assert _hours(whole[0]) == 743


def _hours(row: Row) -> float:
    starts, ends = (datetime.fromisoformat(row[name] or "") for name in ("starts", "ends"))
    return (ends - starts) / timedelta(hours=1)


# RFC 5545 section 3.6.5 and 3.3.5: the rules of New York from 2007 on, here under a name no database has.
EASTERN = """BEGIN:VTIMEZONE
TZID:Invented/Eastern
LAST-MODIFIED:20050809T050000Z
X-NOTE:of no use
BEGIN:STANDARD
DTSTART:20071104T020000
RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
TZNAME:EST
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:20070311T020000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
END:VTIMEZONE
"""


@pytest.mark.parametrize("zone", ["America/New_York", "Invented/Eastern"])
def test_section_3_3_5_times_that_come_twice_or_never(zone: str) -> None:
    # "TZID=America/New_York:20071104T013000 indicates November 4, 2007 at 1:30 A.M. EDT (UTC-04:00)."
    assert _starts(f"DTSTART;TZID={zone}:20071104T013000", head=EASTERN) == ["2007-11-04T05:30:00Z"]
    # "TZID=America/New_York:20070311T023000 indicates March 11, 2007 at 3:30 A.M. EDT (UTC-04:00)"
    assert _starts(f"DTSTART;TZID={zone}:20070311T023000", head=EASTERN) == ["2007-03-11T07:30:00Z"]


@pytest.mark.parametrize("zone", ["America/New_York", "Invented/Eastern"])
def test_erratum_4271_an_occurrence_in_the_missing_hour_is_kept_and_counted(zone: str) -> None:
    # RFC 5545 erratum 4271 (verified): such instances "are handled as specified in Section 3.3.5", not ignored.
    starts = _starts(f"DTSTART;TZID={zone}:20070310T023000\nRRULE:FREQ=DAILY;COUNT=3", head=EASTERN)
    # 02:30 EST; the 11th by the offset before the gap, 02:30 − (−5 h); the 12th in EDT.
    assert starts == ["2007-03-10T07:30:00Z", "2007-03-11T07:30:00Z", "2007-03-12T06:30:00Z"]


@pytest.mark.parametrize("year", [2008, 2031, 2061])
def test_a_zone_of_the_calendar_is_the_zone_it_copies_hour_by_hour(year: int) -> None:
    """Every third hour of March and November, against the zone database: the second reader of the same rules."""
    events, expected = [], []
    for month in (3, 11):
        for k in range(0, 30 * 24, 3):
            wall = datetime(year, month, 1, 0, 30, tzinfo=NEW_YORK) + timedelta(hours=k)  # on the clock on the wall
            events.append(f"UID:{month}-{k}\nDTSTART;TZID=Invented/Eastern:{wall:%Y%m%dT%H%M%S}")
            expected.append(f"{wall.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}")
    rows, reasons = _read(_calendar(*events, head=EASTERN))
    assert reasons == []
    assert [row["starts"] for row in rows] == expected


@pytest.mark.parametrize("zone", ["America/New_York", "Invented/Eastern"])
def test_times_in_utc_survive_the_local_time_of_their_event(zone: str) -> None:
    """A date added in UTC is that instant, whatever the clock on the wall shows: each half hour around both changes."""
    around = [datetime(2007, 3, 11, 5, 30, tzinfo=UTC), datetime(2007, 11, 4, 3, 30, tzinfo=UTC)]
    added = [first + timedelta(minutes=30) * k for first in around for k in range(10)]
    events = [f"UID:{at:%m%d%H%M}\nDTSTART;TZID={zone}:20070101T120000\nRDATE:{at:%Y%m%dT%H%M%SZ}" for at in added]
    rows, reasons = _read(_calendar(*events, head=EASTERN))
    assert reasons == []
    assert [row["starts"] for row in rows][1::2] == [f"{at:%Y-%m-%dT%H:%M:%SZ}" for at in added]


def test_section_3_8_5_3_dtend_fixes_the_exact_duration_and_duration_the_nominal_one() -> None:
    """ "the same exact duration will apply to all the members of the generated recurrence set", with DTEND; with
    DURATION "the same nominal duration": "a nominal duration of one day will have an exact duration of more or less
    than 24 hours on a day where a time zone shift occurs".
    """
    series = "DTSTART;TZID=America/New_York:20070310T010000\nRRULE:FREQ=DAILY;COUNT=2\n"
    exact, _ = _read(_calendar(f"UID:a\n{series}DTEND;TZID=America/New_York:20070310T040000"))
    assert [_hours(row) for row in exact] == [3, 3]
    assert exact[1]["ends"] == "2007-03-11T09:00:00Z"  # 01:00 EST is 06:00Z, and 3 h later it is 05:00 EDT
    day, _ = _read(_calendar(f"UID:a\n{series}DURATION:P1D"))
    assert [_hours(row) for row in day] == [24, 23]  # to 01:00 EDT of the 12th, 05:00Z
    hours, _ = _read(_calendar(f"UID:a\n{series}DURATION:PT24H"))
    assert [_hours(row) for row in hours] == [24, 24]


@pytest.mark.parametrize(
    ("duration", "hours"),
    # Section 3.3.6: "A duration of 15 days, 5 hours, and 20 seconds" and "A duration of 7 weeks".
    [("P15DT5H0M20S", 15 * 24 + 5 + 20 / 3600), ("P7W", 7 * 7 * 24)],
)
def test_section_3_3_6_durations(duration: str, hours: float) -> None:
    rows, _ = _read(_calendar(f"UID:a\nDTSTART:20310105T120000Z\nDURATION:{duration}"))
    assert _hours(rows[0]) == pytest.approx(hours, rel=1e-12)


def test_section_3_1_folding_may_split_a_line_and_a_letter_anywhere() -> None:
    # The example of section 3.1, with its text as printed there.
    printed = "DESCRIPTION:This is a lo\n ng description\n  that exists on a long line."
    rows, _ = _read(_calendar(f"UID:a\nDTSTART:20310309T200000Z\n{printed}"))
    assert rows[0]["description"] == "This is a long description that exists on a long line."
    # "it is possible for very simple implementations to generate improperly folded lines in the middle of a UTF-8
    # multi-octet sequence": U+00E9 is C3 A9.
    event = b"BEGIN:VEVENT\r\nUID:a\r\nDTSTART:2031\r\n 0309T200000Z\r\nSUMMARY:caf\xc3\r\n\t\xa9\r\nEND:VEVENT\r\n"
    data = b"BEGIN:VCALENDAR\r\n" + event + b"END:VCALENDAR\r\n"
    batch = next(read_calendar(io.BytesIO(data), "a.ics", NEW_YORK))
    assert batch.rows.row(0)[batch.headers.index("summary") + 2] == "café"
    assert "SUMMARY:café" in batch.rows["text"][0]
    assert "DTSTART:2031\n 0309T200000Z" in batch.rows["text"][0]


def test_section_3_6_1_examples_of_events() -> None:
    review = """UID:19970901T130000Z-123401@example.com
DTSTAMP:19970901T130000Z
DTSTART:19970903T163000Z
DTEND:19970903T190000Z
SUMMARY:Annual Employee Review
CLASS:PRIVATE
CATEGORIES:BUSINESS,HUMAN RESOURCES"""
    transparent = """UID:20070423T123432Z-541111@example.com
DTSTAMP:20070423T123432Z
DTSTART;VALUE=DATE:20070628
DTEND;VALUE=DATE:20070709
SUMMARY:A festival of eleven days
TRANSP:TRANSPARENT"""
    rows, reasons = _read(_calendar(review, transparent), "America/New_York")
    assert reasons == []
    assert {name: value for name, value in rows[0].items() if value} == {
        "booking": "19970901T130000Z-123401@example.com",
        "uid": "19970901T130000Z-123401@example.com",
        "starts": "1997-09-03T16:30:00Z",
        "ends": "1997-09-03T19:00:00Z",
        "summary": "Annual Employee Review",
        "class": "PRIVATE",
        "categories": "BUSINESS, HUMAN RESOURCES",
    }
    # Midnights of New York in summer: June 28 to July 9, the end not included.
    assert (rows[1]["starts"], rows[1]["ends"]) == ("2007-06-28T04:00:00Z", "2007-07-09T04:00:00Z")
    assert rows[1]["transp"] == "TRANSPARENT"


def test_section_3_8_5_2_periods_bring_their_own_ends() -> None:
    # The example of section 3.8.5.2 with VALUE=PERIOD, added to an event that ends after an hour.
    event = """UID:a
DTSTART:19960401T010000Z
DTEND:19960401T020000Z
RDATE;VALUE=PERIOD:19960403T020000Z/19960403T040000Z,
 19960404T010000Z/PT3H"""
    rows, _ = _read(_calendar(event))
    assert [(row["starts"], row["ends"]) for row in rows] == [
        ("1996-04-01T01:00:00Z", "1996-04-01T02:00:00Z"),
        ("1996-04-03T02:00:00Z", "1996-04-03T04:00:00Z"),
        ("1996-04-04T01:00:00Z", "1996-04-04T04:00:00Z"),
    ]


def test_section_3_3_11_text_is_unescaped_once() -> None:
    # Section 3.3.11 and 3.8.1.5: "\n" is a line break, "\," a comma, "\\" a backslash.
    text = r"DESCRIPTION:VT3\; line 2\nC:\\new\, both"
    rows, _ = _read(_calendar(f"UID:a\nDTSTART:20310309T200000Z\n{text}"))
    assert rows[0]["description"] == "VT3; line 2\nC:\\new, both"


SAN_JOSE = """BEGIN:VTIMEZONE
TZID:America-SanJose
TZURL:http://example.com/tz/America-SanJose
BEGIN:STANDARD
DTSTART:19671029T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10
TZOFFSETFROM:-0700
TZOFFSETTO:-0800
TZNAME:PST
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19870405T020000
RRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=4
TZOFFSETFROM:-0800
TZOFFSETTO:-0700
TZNAME:PDT
END:DAYLIGHT
END:VTIMEZONE
"""


def test_rfc_5546_4_4_1_exdate_and_rdate_in_a_zone_of_the_calendar() -> None:
    """RFC 5546 section 4.4.1: Tuesdays at 14:00 from July 1, 1997, twenty times, without September 9 and October 28 and
    with Wednesday, September 10.
    """
    event = """UID:calsrv.example.com-873970198738777@example.com
DTSTAMP:19970613T190030Z
DTSTART;TZID=America-SanJose:19970701T140000
DTEND;TZID=America-SanJose:19970701T150000
RRULE:FREQ=WEEKLY;COUNT=20;WKST=SU;BYDAY=TU
RDATE;TZID=America-SanJose:19970910T140000
EXDATE;TZID=America-SanJose:19970909T140000
EXDATE;TZID=America-SanJose:19971028T140000
SEQUENCE:0
STATUS:CONFIRMED"""
    rows, _ = _read(_calendar(event, head=SAN_JOSE))
    tuesdays = {date(1997, 7, 1) + timedelta(weeks=k) for k in range(20)}
    days = sorted(tuesdays - {date(1997, 9, 9), date(1997, 10, 28)} | {date(1997, 9, 10)})
    # Daylight time, seven hours behind UTC, ended on October 26, 1997.
    hours = [21 if day < date(1997, 10, 26) else 22 for day in days]
    assert [row["starts"] for row in rows] == [f"{day}T{hour}:00:00Z" for day, hour in zip(days, hours, strict=True)]


MONTHLY = """BEGIN:VCALENDAR
METHOD:REQUEST
BEGIN:VEVENT
UID:guid-1@example.com
SEQUENCE:0
RRULE:FREQ=MONTHLY;BYMONTHDAY=1;UNTIL=19980901T210000Z
DTSTART:19970601T210000Z
DTEND:19970601T220000Z
DTSTAMP:19970526T083000Z
STATUS:CONFIRMED
END:VEVENT
END:VCALENDAR
"""
MOVED = """BEGIN:VCALENDAR
METHOD:REQUEST
BEGIN:VEVENT
UID:guid-1@example.com
RECURRENCE-ID:19970701T210000Z
SEQUENCE:1
DTSTART:19970703T210000Z
DTEND:19970703T220000Z
DTSTAMP:19970626T093000Z
STATUS:CONFIRMED
END:VEVENT
END:VCALENDAR
"""
CANCELLED_ONE = """BEGIN:VCALENDAR
METHOD:CANCEL
BEGIN:VEVENT
UID:guid-1@example.com
RECURRENCE-ID:19970801T210000Z
SEQUENCE:2
STATUS:CANCELLED
DTSTAMP:19970721T093000Z
END:VEVENT
END:VCALENDAR
"""
CANCELLED_ALL = """BEGIN:VCALENDAR
METHOD:CANCEL
BEGIN:VEVENT
UID:guid-1@example.com
DTSTAMP:19970721T103000Z
STATUS:CANCELLED
SEQUENCE:3
END:VEVENT
END:VCALENDAR
"""


def _firsts_of_months() -> list[str]:
    """The first of each month from June 1997 to September 1998."""
    return [f"{year}{month:02}01" for year in (1997, 1998) for month in range(1, 13)][5:21]


def test_rfc_5546_4_4_2_a_moved_occurrence_keeps_its_id() -> None:
    rows, reasons = _read(MONTHLY + MOVED)
    assert reasons == []
    assert {row["booking"] for row in rows} == {f"guid-1@example.com/{day}T210000Z" for day in _firsts_of_months()}
    starts = {row["booking"]: row["starts"] for row in rows}
    assert starts["guid-1@example.com/19970701T210000Z"] == "1997-07-03T21:00:00Z"
    assert starts["guid-1@example.com/19970801T210000Z"] == "1997-08-01T21:00:00Z"


def test_rfc_5546_4_4_3_a_cancelled_occurrence_is_set_aside() -> None:
    rows, reasons = _read(MONTHLY + MOVED + CANCELLED_ONE)
    assert reasons == ["cancelled: the event is cancelled (STATUS:CANCELLED)."]
    days = [day for day in _firsts_of_months() if day != "19970801"]
    assert {row["booking"] for row in rows} == {f"guid-1@example.com/{day}T210000Z" for day in days}


def test_rfc_5546_4_4_4_a_cancelled_event_takes_all_its_occurrences_along() -> None:
    rows, reasons = _read(MONTHLY + MOVED + CANCELLED_ONE + CANCELLED_ALL)
    assert rows == []
    assert len(reasons) == 4
    assert all("cancelled" in reason or "SEQUENCE is higher" in reason for reason in reasons)
    # An older cancellation does not undo a newer version (section 2.1.5: the higher SEQUENCE holds).
    rows, _ = _read(MONTHLY.replace("SEQUENCE:0", "SEQUENCE:4") + CANCELLED_ALL)
    assert len(rows) == 16
