"""Writes the bookings as two iCalendar files (RFC 5545): the series with their rules, and what is booked singly."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

from icalendar import Calendar, Event, vRecur

from sample_logs.foreign.booked import HOUSE, Entry
from sample_logs.foreign.days import EVENING, EVENING_ENDS, SUNDAYS, Series
from sample_logs.foreign.house import FIRST_DAY, is_doubled
from sample_logs.foreign.spellings import CHANNELS, ROLES, bay
from sample_logs.foreign.strays import Strays
from sample_logs.room.instants import as_local, as_utc, local
from sample_logs.room.logbook import Booking

SERIES_FILE, SINGLE_FILE = "kalender/serier.ics", "kalender/enstaka.ics"
WRITTEN = datetime(2031, 10, 1, 12, tzinfo=UTC)
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
MEETING = "Möte"
FLOATING_EVERY = 3  # of the bookings made singly, so many are at floating times


def write_series(strays: Strays) -> bytes:
    """The two series, each once for air and once for protect, with what was left out, moved and called off."""
    parts: list[Event] = []
    for series in (EVENING, SUNDAYS):
        for role, machine in zip(("air", "protect"), series.machines, strict=True):
            parts += _series(series, role, machine)
    if EVENING.called_off:
        strays.note(SERIES_FILE, f"the occurrences of {EVENING.called_off}", "cancelled", 2)
    return _calendar(parts)


def write_single(entries: Iterable[Entry], strays: Strays) -> bytes:
    """Every booking that is of no series, and two meetings that are of no machine."""
    single = [entry for entry in entries if entry.slot is None]
    parts = [_single(entry, number) for number, entry in enumerate(single)]
    for day in (date(2031, 10, 13), date(2031, 10, 27)):
        parts.append(_meeting(day))
        strays.note(SINGLE_FILE, f"`Veckomöte` {day}", "of no interest: no booking of a machine")
    return _calendar(parts)


def _series(series: Series, role: str, machine: str) -> Iterator[Event]:
    """The rule, and the occurrences that differ from it."""
    first = next(series.occurrences(EVENING_ENDS))[0]
    uid = f"{'sondag' if series is SUNDAYS else 'kvall'}-{role}@{HOUSE}"
    rule = _of_series(series, uid, role, machine, start=_wall(series, first))
    frequency: dict[str, Any] = {"freq": "weekly", "byday": [WEEKDAYS[day] for day in series.days]}
    if series is EVENING:
        frequency["until"] = as_utc(local(EVENING_ENDS, series.starts_min))
    rule.add("rrule", vRecur(frequency))
    if series.left_out:
        rule.add("exdate", _wall(series, series.left_out))
    yield rule
    if series.moved:
        day, minutes = series.moved
        moved = _of_series(series, uid, role, machine, start=_wall(series, day, minutes))
        moved.add("recurrence-id", _wall(series, day))
        yield moved
    if series.called_off:
        called_off = _of_series(series, uid, role, machine, start=_wall(series, series.called_off))
        called_off.add("recurrence-id", _wall(series, series.called_off))
        called_off.add("status", "CANCELLED")
        yield called_off


def _of_series(series: Series, uid: str, role: str, machine: str, *, start: datetime) -> Event:
    event = _event(uid, series.title, role, machine)
    event.add("description", f"Kanal {CHANNELS[series.channel]}")
    event.add("dtstart", start)
    event.add("duration", timedelta(minutes=series.length_min))
    return event


def _wall(series: Series, day: date, minutes: int = 0) -> datetime:
    """Zoned for the weekday series, floating for the one on Sundays."""
    zoned = as_local(local(day, minutes or series.starts_min))
    return zoned.replace(tzinfo=None) if series is SUNDAYS else zoned


def _single(entry: Entry, number: int) -> Event:
    """Zoned, every third floating, and in UTC what begins or ends in the doubled hour."""
    row = entry.booking
    event = _event(entry.uid, _summary(row), row.role, row.machine)
    if row.channel:
        event.add("description", f"Kanal {CHANNELS[row.channel]}\nSända kopior: A till sändning, B till reserv")
        event.add("x-ekervattna-band", row.reel)
    starts, ends = as_local(row.starts), as_local(row.ends)
    if is_doubled(row.starts) or is_doubled(row.ends):
        starts, ends = as_utc(row.starts), as_utc(row.ends)
    elif number % FLOATING_EVERY == 0:
        starts, ends = starts.replace(tzinfo=None), ends.replace(tzinfo=None)
    event.add("dtstart", starts)
    event.add("dtend", ends)
    return event


def _summary(row: Booking) -> str:
    if row.transmission:
        return f"{row.transmission} {row.programme} / {row.show}"
    return row.programme or "genomgång av maskinen"


def _meeting(day: date) -> Event:
    event = Event()
    event.add("uid", f"mote-{day:%Y%m%d}@{HOUSE}")
    event.add("dtstamp", WRITTEN)
    event.add("summary", "Veckomöte")
    event.add("location", "Fikarummet")
    event.add("categories", [MEETING])
    event.add("dtstart", as_local(local(day, 13 * 60)))
    event.add("dtend", as_local(local(day, 14 * 60)))
    return event


def _event(uid: str, summary: str, role: str, machine: str) -> Event:
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", WRITTEN)
    event.add("summary", summary)
    event.add("location", bay(machine))
    event.add("categories", [ROLES[role]])
    return event


def _calendar(parts: Iterable[Event]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", "-//Ekervattna//invented bookings//SV")
    calendar.add("version", "2.0")
    for part in parts:
        calendar.add_component(part)
    calendar.add_missing_timezones(first_date=FIRST_DAY.replace(day=1), last_date=date(2031, 12, 1))
    written: bytes = calendar.to_ical()
    return written
