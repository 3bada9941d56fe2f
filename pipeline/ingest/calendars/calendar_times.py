"""Reads dates, times and durations (RFC 5545 sections 3.3.4 to 3.3.6) through the library, but only what they allow.

The library takes a time it finds no zone for as a time without one, and a UTC time with a TZID as local; a report would
then be hours wrong without a word. So what a value may be is checked before, and its zone is found here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from icalendar import vDDDTypes, vDuration

from pipeline.ingest.calendars.calendar_blocks import Scope
from pipeline.ingest.calendars.calendar_lines import ContentLine
from pipeline.ingest.calendars.calendar_zones import Zones

When = date | datetime
FIRST_YEAR, LAST_YEAR = 1600, 2399
LONGEST_QUOTE = 60
TIME = re.compile(r"[0-9]{8}(?:T[0-9]{6}Z?)?")
LEAP_SECOND = re.compile(r"(T[0-9]{4})60")
DURATION = re.compile(r"([+-]?)P(?=[0-9T])((?:[0-9]{1,6}[WD])*)(?:T((?:[0-9]{1,9}[HMS])+))?")
TZID = re.compile(r';TZID=(?:"([^"]*)"|([^;]*))', re.IGNORECASE)


class UnreadableError(ValueError):
    """The event cannot be a row; its text is the reason, in a sentence."""


@dataclass(frozen=True)
class Length:
    """A duration: days of the calendar, and what is counted exactly, which a change of clocks does not stretch."""

    days: int = 0
    exact: timedelta = timedelta(0)


@dataclass
class Clock:
    """How the times of one event are read: ``days`` is the zone whose midnights dates begin at, ``default`` that of
    times which name no zone, but where DTSTART names one, ``own``, the others mean that. ``is_floating`` is set when
    a time is read in ``default``.
    """

    zones: Zones
    scope: Scope
    days: tzinfo
    default: tzinfo
    own: tzinfo | None = None
    is_floating: bool = False

    def when(self, line: ContentLine, value: str | None = None) -> When:
        """The date, or the time with its zone, of a line or of one ``value`` of its list.

        Raises:
            UnreadableError: it is none, or its zone is not known.
        """
        text = (line.value if value is None else value).strip().upper()
        if not TIME.fullmatch(text):
            raise UnreadableError(_no_time(line, text))
        zone = None if len(text) == 8 or text.endswith("Z") else self._zone(line)
        try:
            found = vDDDTypes.from_ical(LEAP_SECOND.sub(r"\g<1>59", text), timezone=zone)  # type: ignore[no-untyped-call]
        except ValueError:
            raise UnreadableError(_no_time(line, text)) from None
        if not isinstance(found, date) or not FIRST_YEAR <= found.year <= LAST_YEAR:
            raise UnreadableError(_no_time(line, text))
        return found

    def instant(self, when: When) -> datetime:
        """The instant in UTC: of a date the midnight it begins at."""
        return instant_of(when, self.days)

    def _zone(self, line: ContentLine) -> tzinfo:
        tzid = zone_name(line)
        if not tzid:
            self.is_floating = self.is_floating or self.own is None
            return self.own or self.default
        zone = self.zones.find(tzid, self.scope)
        if zone is None:
            raise UnreadableError(
                f'{line.name} is in the time zone "{tzid[:LONGEST_QUOTE]}", which is not known, and no usable VTIMEZONE'
                " of the calendar tells it. Expected a name of the zone database, such as Europe/Stockholm."
            )
        return zone


def instant_of(when: When, days: tzinfo) -> datetime:
    """The instant of ``when`` in UTC; a date begins at midnight in the zone ``days``."""
    wall = when if isinstance(when, datetime) else datetime.combine(when, time(0), days)
    return wall.astimezone(UTC)


def iso(at: datetime) -> str:
    """An instant in UTC as ISO 8601 writes it, to the second."""
    return f"{at.replace(tzinfo=None).isoformat(timespec='seconds')}Z"


def zone_name(line: ContentLine) -> str:
    """The TZID parameter of a line, or nothing."""
    found = TZID.search(line.parameters)
    return (found[1] or found[2] or "").strip() if found else ""


def length_of(line: ContentLine, value: str | None = None) -> Length:
    """The duration of a line, or of one ``value`` of it (RFC 5545 section 3.3.6: days by the calendar, the rest exact).

    Raises:
        UnreadableError: it is none, or negative.
    """
    text = (line.value if value is None else value).strip().upper()
    found = DURATION.fullmatch(text)
    try:
        sign, days, exact = found.groups() if found else ("", "?", None)
        parts = (vDuration.from_ical(part) for part in (f"P{days}", f"PT{exact or ''}"))  # type: ignore[no-untyped-call]
        length = Length(next(parts).days, next(parts))
    except ValueError:
        raise UnreadableError(
            f'{line.name} "{text[:LONGEST_QUOTE]}" is no duration. Expected one such as P1D or PT1H30M.'
        ) from None
    if sign == "-" and length != Length():
        raise UnreadableError(f'{line.name} "{text[:LONGEST_QUOTE]}" is negative. Expected an end after the start.')
    return length


def end_after(start: When, length: Length, days: tzinfo) -> datetime:
    """The instant at which what begins at ``start`` ends: days are added on the local clock first, then the rest.

    Raises:
        UnreadableError: it ends beyond the years that are read.
    """
    try:
        return instant_of(start + timedelta(days=length.days), days) + length.exact
    except OverflowError:
        raise UnreadableError("The event ends after the year 9999. Expected an end soon after its start.") from None


def _no_time(line: ContentLine, text: str) -> str:
    return (
        f'{line.name} "{text[:LONGEST_QUOTE]}" is no time. Expected one such as 20310309T200000, with Z for UTC or a '
        f"TZID, or a date such as 20310309, of the years {FIRST_YEAR} to {LAST_YEAR}."
    )
