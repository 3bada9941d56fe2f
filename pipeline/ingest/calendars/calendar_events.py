"""Reads one VEVENT: when it is, which of its kind it changes, and its cells; or says in a sentence why it is no row."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from zoneinfo import ZoneInfo

from icalendar import vRecur
from icalendar.parser import split_on_unescaped_comma, unescape_backslash

from pipeline.ingest.calendars.calendar_blocks import ADDRESSES, STAMPS, TEXTS, EventBlock
from pipeline.ingest.calendars.calendar_lines import ContentLine
from pipeline.ingest.calendars.calendar_rules import read_rule
from pipeline.ingest.calendars.calendar_times import (
    TIME,
    Clock,
    Length,
    UnreadableError,
    When,
    end_after,
    length_of,
    zone_name,
)
from pipeline.ingest.calendars.calendar_zones import Zones

SINGLE = ("UID", "DTSTART", "DTEND", "DURATION", "RECURRENCE-ID")
MOST_DATES = 10_000  # of RDATE and EXDATE together
MOST_RULES = 10
ANSWERS = ("REPLY", "REFRESH", "COUNTER", "DECLINECOUNTER")
CANCELLED = "cancelled: the event is cancelled (STATUS:CANCELLED)."
CALENDAR_CANCELS = "cancelled: the event is cancelled (its calendar says METHOD:CANCEL)."
NO_START = "The event has no DTSTART, so it has no time. Enter it in the calendar and export again."


@dataclass
class Event:
    """A VEVENT with its times read.

    ``reason`` says why it is no row; ``is_cancelled`` or ``is_answer`` why it is none by design. ``original`` is its
    RECURRENCE-ID: then it stands for that one occurrence of the event of its UID, and for all later ones too where
    ``is_onward``. ``periods`` are those RDATEs that bring an end of their own, by the instant of their start.
    """

    block: EventBlock
    clock: Clock
    uid: str = ""
    reason: str = ""
    is_cancelled: bool = False
    is_answer: bool = False
    start: When | None = None
    end: When | None = None
    length: Length | None = None
    original: When | None = None
    is_onward: bool = False
    rules: list[vRecur] = field(default_factory=list)
    added: list[When] = field(default_factory=list)
    excluded: list[When] = field(default_factory=list)
    periods: dict[datetime, When | Length] = field(default_factory=dict)

    @property
    def rank(self) -> tuple[int, str, int]:
        """Which of two versions is the later one: SEQUENCE, then DTSTAMP (RFC 5546 section 2.1.5), then the place."""
        number, stamp = self.value("SEQUENCE"), self.value("DTSTAMP").upper()
        sequence = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0
        return sequence, stamp if TIME.fullmatch(stamp) else "", self.block.line

    @property
    def is_recurring(self) -> bool:
        """Whether it has more occurrences than one, or may have."""
        return bool(self.rules or self.added)

    @property
    def zone(self) -> tzinfo:
        """The zone whose local time its recurrence keeps."""
        zone = self.start.tzinfo if isinstance(self.start, datetime) else None
        return zone or self.clock.days

    def value(self, name: str) -> str:
        """The value of its first line of that name, or nothing."""
        return next((line.value.strip() for line in self.block.lines if line.name == name), "")

    def ends_at(self, start: When) -> datetime:
        """The instant at which the occurrence from ``start`` on ends (RFC 5545 section 3.8.5.3).

        A DTEND fixes how long every occurrence is exactly, also across a change of clocks; a DURATION counts its days
        on the local clock. Without either a date lasts its day, and a time no time at all (section 3.6.1).
        """
        starts_at = self.clock.instant(start)
        own = self.periods.get(starts_at) or self.end or self.length
        if isinstance(own, Length):
            return end_after(start, own, self.clock.days)
        if own is None:
            return end_after(start, Length(days=0 if isinstance(start, datetime) else 1), self.clock.days)
        if own is not self.end:
            return self.clock.instant(own)
        if self.start is not None and not isinstance(start, datetime) and not isinstance(own, datetime):
            return end_after(start, Length(days=(own - self.start).days), self.clock.days)
        return starts_at + (self.clock.instant(own) - self.clock.instant(self.start or start))


def read_event(block: EventBlock, zones: Zones, zone: ZoneInfo) -> Event:
    """The event of a block. Times that name no zone are in X-WR-TIMEZONE if the calendar has one, else in ``zone``;
    dates begin at midnight in ``zone``. Never raises: why an event is no row is its ``reason``.
    """
    named = block.scope.properties.get("X-WR-TIMEZONE", "")
    event = Event(block, Clock(zones, block.scope, zone, (zones.find(named, block.scope) if named else None) or zone))
    event.uid = unescape_backslash(event.value("UID"))
    method = block.scope.properties.get("METHOD", "").upper()
    event.is_cancelled = method == "CANCEL" or event.value("STATUS").upper() == "CANCELLED"
    event.is_answer = method in ANSWERS
    try:
        _read_times(event)
    except UnreadableError as error:
        event.reason = str(error)
    except (ValueError, OverflowError, TypeError, ArithmeticError):
        event.reason = "The times of the event cannot be read. Mend it in the calendar and export again."
    event.reason = block.flaw or _by_design(event, method) or event.reason
    return event


def _by_design(event: Event, method: str) -> str:
    if event.is_answer:
        return f"The event is an answer about one (METHOD:{method}), no booking."
    if event.is_cancelled:
        return CALENDAR_CANCELS if event.value("STATUS").upper() != "CANCELLED" else CANCELLED
    scale = event.block.scope.properties.get("CALSCALE", "GREGORIAN")
    return (
        "" if scale.upper() == "GREGORIAN" else f'The calendar counts by CALSCALE "{scale[:60]}". Expected GREGORIAN.'
    )


def _read_times(event: Event) -> None:
    lines: dict[str, list[ContentLine]] = {}
    for line in event.block.lines:
        lines.setdefault(line.name, []).append(line)
    _check_lines(event, lines)
    clock = event.clock
    for line in lines.get("DTSTART", []):
        event.start = clock.when(line)
        if isinstance(event.start, datetime) and zone_name(line):
            clock.own = event.start.tzinfo
    for line in lines.get("RECURRENCE-ID", []):
        event.original = clock.when(line)
        event.is_onward = "RANGE=THISANDFUTURE" in line.parameters.upper()
    if event.start is None:
        raise UnreadableError(NO_START)
    for line in lines.get("DURATION", []):
        event.length = length_of(line)
    for line in lines.get("DTEND", []):
        event.end = clock.when(line)
    _check_end(event, lines)
    if event.original is None:
        _read_recurrence(event, lines, event.start)


def _check_lines(event: Event, lines: dict[str, list[ContentLine]]) -> None:
    for name in SINGLE:
        found = lines.get(name, [])
        if any(line != found[0] for line in found):
            raise UnreadableError(f"The event has {len(found)} different {name} lines. Expected one.")
    for name, size in event.block.cut:
        if name not in TEXTS and name not in ADDRESSES and not name.startswith("X-"):
            raise UnreadableError(f"{name} is {size:,} bytes long. Is the file the export it is named for?")
    dates = sum(line.value.count(",") + 1 for name in ("RDATE", "EXDATE") for line in lines.get(name, []))
    if dates > MOST_DATES or len(lines.get("RRULE", [])) > MOST_RULES:
        raise UnreadableError(
            f"The event names more than {MOST_DATES:,} dates or {MOST_RULES} rules. Export it in shorter spans."
        )


def _check_end(event: Event, lines: dict[str, list[ContentLine]]) -> None:
    if event.start is None or event.end is None:
        return
    if event.clock.instant(event.end) < event.clock.instant(event.start):
        start, end = (lines[name][0].value.strip()[:60] for name in ("DTSTART", "DTEND"))
        raise UnreadableError(f"The event ends before its start ({start} to {end}). Expected an end after the start.")


def _read_recurrence(event: Event, lines: dict[str, list[ContentLine]], begins: When) -> None:
    clock = event.clock
    event.excluded = [
        clock.when(line, value) for line in lines.get("EXDATE", []) for value in line.value.split(",") if value.strip()
    ]
    for line in lines.get("RDATE", []):
        for value in filter(str.strip, line.value.split(",")):
            start_text, _, end_text = value.partition("/")
            start = clock.when(line, start_text)
            event.added.append(start)
            if end_text:
                is_length = "P" in end_text.upper()
                event.periods[clock.instant(start)] = (
                    length_of(line, end_text) if is_length else clock.when(line, end_text)
                )
    event.rules = [read_rule(line.value, begins, event.zone) for line in lines.get("RRULE", [])]


def newest_of(event: Event) -> datetime | None:
    """The newest instant the event names outside its rules, be it a row or not."""
    found = [event.clock.instant(when) for when in (event.start, event.original, *event.added) if when is not None]
    for name in STAMPS:
        text = event.value(name).upper()
        if TIME.fullmatch(text) and text.endswith("Z"):
            try:
                found.append(event.clock.instant(event.clock.when(ContentLine(name, "", text))))
            except UnreadableError:
                continue
    return max(found, default=None)


def cells_of(event: Event) -> dict[str, str]:
    """The cells of its texts by header; several lines of one name are joined by a comma and a space."""
    found: dict[str, list[str]] = {}
    for line in event.block.lines:
        if line.name == "CATEGORIES":
            found.setdefault("categories", []).extend(split_on_unescaped_comma(line.value))
        elif line.name in TEXTS:
            found.setdefault(line.name.lower(), []).append(unescape_backslash(line.value))
        elif line.name in ADDRESSES:
            found.setdefault(line.name.lower(), []).append(line.value)
        elif line.name.startswith("X-"):
            found.setdefault(line.name, []).append(unescape_backslash(line.value))
    return {name: ", ".join(part.strip() for part in parts if part.strip()) for name, parts in found.items()}
