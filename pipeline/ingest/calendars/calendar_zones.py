"""Finds the zone that a TZID of a calendar means: the zone database first, then the calendar's own VTIMEZONE.

The library keeps every VTIMEZONE it met under its name for as long as the program runs, so that one file would change
how another is read; and of a local time that its zone skips it takes the offset after the gap, where RFC 5545 section
3.3.5 has the one before. So blocks are read here one by one, and asked through ``_BlockZone``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from icalendar import Timezone
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from pipeline.ingest.calendars.calendar_blocks import Scope
from pipeline.ingest.calendars.calendar_lines import ContentLine

DAY = timedelta(days=1)
LONGEST_NAME = 200
MOST_RULES = 200  # of all blocks of one file: each is followed from its first year on
WANTED = ("BEGIN", "END", "DTSTART", "RRULE", "RDATE", "TZOFFSETFROM", "TZOFFSETTO")
PROBE = datetime(2031, 3, 9)  # noqa: DTZ001 - a wall time
# Rules as VTIMEZONE blocks have them: yearly, on days that come every few years. Others could be followed for ever.
DAYS = r"BYDAY=[+-]?[1-5]?(?:MO|TU|WE|TH|FR|SA|SU)"
RULE = re.compile(
    rf"(?=.*FREQ=YEARLY)(?!.*BYDAY=[+-]?[1-5].*BYMONTHDAY|.*BYMONTHDAY.*BYDAY=[+-]?[1-5])"
    rf"(?:(?:FREQ=YEARLY|INTERVAL=1|COUNT=\d{{1,4}}|UNTIL=\d{{8}}(?:T\d{{6}}Z?)?|WKST=[A-Z]{{2}}|BYMONTH=\d{{1,2}}|{DAYS}|"
    r"BYMONTHDAY=-?[12]?\d(?:,-?[123]?\d)*)(?:;|$))+",
    re.ASCII,
)


class Zones:
    """The zones that one file names; each VTIMEZONE is read once."""

    def __init__(self) -> None:
        self._named: dict[str, tzinfo | None] = {}
        self._blocks: dict[tuple[int, str], tzinfo | None] = {}
        self._rules_left = MOST_RULES

    def find(self, tzid: str, scope: Scope) -> tzinfo | None:
        """The zone of ``tzid`` in a calendar, or None if neither the zone database nor the calendar has it.

        A name of the zone database is read by it even where a VTIMEZONE stands beside. Where the calendar does not say
        what they mean, other names that Unicode CLDR maps to the database and ``/vendor/Area/Place`` are known too.
        """
        zone = self._database(tzid)
        if zone is not None:
            return zone
        lines = scope.zones.get(tzid)
        if lines is None:
            return self._database(WINDOWS_TO_OLSON.get(tzid, "")) or self._by_ending(tzid)
        key = (id(scope), tzid)
        if key not in self._blocks:
            self._blocks[key] = self._read(lines)
        return self._blocks[key]

    def _database(self, name: str) -> tzinfo | None:
        if name not in self._named:
            self._named[name] = _zone_info(name)
        return self._named[name]

    def _by_ending(self, tzid: str) -> tzinfo | None:
        parts = tzid.split("/") if tzid.startswith("/") and len(tzid) <= LONGEST_NAME else []
        found = (self._database("/".join(parts[start:])) for start in range(2, len(parts)))
        return next((zone for zone in found if zone is not None), None)

    def _read(self, lines: Sequence[ContentLine]) -> tzinfo | None:
        rules = [line.value for line in lines if line.name == "RRULE"]
        self._rules_left -= len(rules)
        if self._rules_left < 0 or not all(RULE.fullmatch(rule.upper()) for rule in rules):
            return None
        text = "\r\n".join(f"{line.name}:{line.value}" for line in lines if line.name in WANTED)
        try:
            block = Timezone.from_ical(text)
            if not isinstance(block, Timezone):
                return None
            block["TZID"] = "block"  # given only now: under a name the library would keep it
            zone = _BlockZone(block.to_tz(lookup_tzid=False))
        except Exception:  # the library raises what it likes on a damaged block
            return None
        return zone


def _zone_info(name: str) -> tzinfo | None:
    if not name or len(name) > LONGEST_NAME:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # unknown, no name of a zone, or the name of a folder of zones
        return None


class _BlockZone(tzinfo):
    """A zone read from a VTIMEZONE, with the offsets of RFC 5545 section 3.3.5.

    Of a local time that comes twice the first is meant, of one that is skipped the time by the offset before the gap.
    """

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone
        self._usual = zone.utcoffset(PROBE)
        self._days: dict[int, timedelta | None] = {}

    def utcoffset(self, dt: datetime | None) -> timedelta:
        """The offset at the local time ``dt``."""
        if dt is None:
            return timedelta(0)
        constant = self._of_day(dt)
        if constant is not None:
            return constant
        offset, before = self._raw(dt), self._raw(dt - DAY)
        gap = offset - before
        is_skipped = gap > timedelta(0) and self._raw(dt - gap) == before
        return before if is_skipped else offset

    def dst(self, dt: datetime | None) -> timedelta | None:  # noqa: ARG002
        """Not known."""
        return None

    def tzname(self, dt: datetime | None) -> str | None:  # noqa: ARG002
        """Without a name."""
        return None

    def fromutc(self, dt: datetime) -> datetime:
        """The local time of an instant: of the offsets around it the one that fits."""
        for offset in (self._raw(dt - DAY), self._raw(dt + DAY)):
            wall = dt + offset
            if self.utcoffset(wall) == offset:
                return wall
        return (dt + self._raw(dt + DAY)).replace(fold=1)

    def _of_day(self, dt: datetime) -> timedelta | None:
        """The offset of a day without a change on it or beside it; asked once a day, because asking is slow."""
        day = dt.toordinal()
        if day not in self._days:
            noon = dt.replace(hour=12, minute=0, second=0, microsecond=0, fold=0)
            before, after = self._raw(noon - 2 * DAY), self._raw(noon + 2 * DAY)
            self._days[day] = before if before == after else None
        return self._days[day]

    def _raw(self, dt: datetime) -> timedelta:
        try:
            offset = self._zone.utcoffset(dt)
        except Exception:  # before the first change of a block that has only summer time the library fails
            offset = self._usual
        return offset or timedelta(0)
