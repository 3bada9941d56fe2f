"""Cuts a calendar file into its events and time zones by its BEGIN and END lines (RFC 5545 section 3.4).

The library for calendars reads a file as a whole or not at all, and drops events it cannot read without a word. Here
every event stands alone, so that one that is broken spoils no other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import BinaryIO

from pipeline.errors import FeedError
from pipeline.ingest.calendars.calendar_lines import MOST_BYTES, ContentLine, UnfoldedLine, shown_text, unfolded_lines

MOST_VALUES = 1024 * 1024  # bytes of all values of one event
MOST_NAMES = 500  # X- properties of one event
LONGEST_NAME = 100
MOST_KEPT = 512 * 1024 * 1024  # bytes kept of one file
MOST_ZONE_LINES = 1000  # of one VTIMEZONE
MARKER = re.compile(rb"[ \t]*(BEGIN|END)[ \t]*:[ \t]*([A-Z0-9-]+)[ \t]*", re.IGNORECASE)
NAME = re.compile(rb"([A-Z0-9-]+)[;:]", re.IGNORECASE)
TEXTS = ("SUMMARY", "LOCATION", "DESCRIPTION", "CATEGORIES", "STATUS", "TRANSP", "CLASS", "SEQUENCE")
ADDRESSES = ("ORGANIZER", "URL")
TIMES = ("DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID")
STAMPS = ("DTSTAMP", "LAST-MODIFIED", "CREATED")
KEPT = frozenset((*TEXTS, *ADDRESSES, *TIMES, *STAMPS, "UID"))
OF_THE_CALENDAR = ("METHOD", "CALSCALE", "X-WR-TIMEZONE")
NO_END = "The event has no END:VEVENT: the file is cut off or damaged there. Export the calendar again."
HOLDS_NUL = "The event holds a NUL character (shown as \\x00). Export the calendar again."
NOT_UTF8 = "The event holds bytes that are not UTF-8 (shown as \\xNN). Export the calendar as UTF-8 text."
TOO_LONG = f"The event is longer than {MOST_VALUES >> 20} MiB. Export it without what is attached to it."
TOO_MANY = f"The event has more than {MOST_NAMES} X- properties. Is it the export it is named for?"


@dataclass
class Scope:
    """What one VCALENDAR says of all its events: a few of its properties, and the lines of each VTIMEZONE by TZID."""

    properties: dict[str, str] = field(default_factory=dict)
    zones: dict[str, list[ContentLine]] = field(default_factory=dict)


@dataclass
class EventBlock:
    """A BEGIN:VEVENT at physical line ``line``, with those of its own lines that mean something here.

    ``text`` is the event as it stands in the file, of a long one the beginning. ``flaw`` says in a sentence why it
    cannot be read, and is empty where it can. ``cut`` has name and length in bytes of values that are kept in part.
    """

    line: int
    scope: Scope
    lines: list[ContentLine] = field(default_factory=list)
    text: str = ""
    flaw: str = ""
    cut: list[tuple[str, int]] = field(default_factory=list)


def read_blocks(stream: BinaryIO, file: str) -> list[EventBlock]:
    """The events of a file of one or several VCALENDARs, in file order; an empty file has none.

    Raises:
        FeedError: the file does not begin with BEGIN:VCALENDAR, or holds more than 512 MiB of events.
    """
    cutter = _Cutter(file)
    is_begun = False
    for line in unfolded_lines(stream):
        kind, name = _marker(line.data)
        if not is_begun and line.data.strip():
            if (kind, name) != ("BEGIN", "VCALENDAR"):
                raise FeedError(f"{file} is no calendar. Expected it to begin with BEGIN:VCALENDAR.")
            is_begun = True
        cutter.take(line, kind, name)
    cutter.close(NO_END)
    return cutter.blocks


def _marker(data: bytes) -> tuple[str, str]:
    """BEGIN or END and the component, both empty where the line is none of the two."""
    found = MARKER.fullmatch(data)
    return (found[1].upper().decode(), found[2].upper().decode()) if found else ("", "")


@dataclass
class _Event:
    """The event that is open, while its lines come in."""

    block: EventBlock
    shown: list[bytes] = field(default_factory=list)
    size: int = 0
    left_out: int = 0
    values: int = 0
    flaw: str = ""

    def show(self, line: UnfoldedLine) -> None:
        data = line.as_it_stands()
        end = len(data) if self.size + len(data) <= MOST_BYTES else max(0, MOST_BYTES - self.size)
        if self.left_out:
            end = 0
        while 0 < end < len(data) and data[end] & 0xC0 == 0x80:  # a byte that continues a letter
            end -= 1
        if end or not data:
            self.shown.append(data[:end])
            self.size += end + 1
        self.left_out += len(data) - end + line.dropped

    def keep(self, line: UnfoldedLine) -> None:
        found = NAME.match(line.data)
        name = found[1].upper().decode() if found else ""
        if name not in KEPT and not (name.startswith("X-") and len(name) <= LONGEST_NAME):
            return
        self.values += len(line.data)
        content = line.content()
        if self.values > MOST_VALUES:
            self.flaw = self.flaw or TOO_LONG
        elif content is not None:
            self.block.lines.append(content)
            if line.dropped:
                self.block.cut.append((name, len(line.data) + line.dropped))


class _Cutter:
    """Takes the file line by line and knows what is open at each."""

    def __init__(self, file: str) -> None:
        self.blocks: list[EventBlock] = []
        self._file = file
        self._kept = 0
        self._scope = Scope()
        self._event: _Event | None = None
        self._inner: list[str] = []  # components open inside the event, or where there is none beside the events
        self._zone: list[ContentLine] | None = None

    def take(self, line: UnfoldedLine, kind: str, name: str) -> None:
        """The next line; BEGIN or END of the component ``name`` if it is one."""
        if name == "VCALENDAR" or (kind, name) == ("BEGIN", "VEVENT"):
            self.close(NO_END)
            self._inner, self._zone = [], None
        if name == "VCALENDAR":
            self._scope = Scope() if kind == "BEGIN" else self._scope
            return
        if (kind, name) == ("BEGIN", "VEVENT"):
            self._event = _Event(EventBlock(line.number, self._scope))
        if self._event is not None:
            self._take_in_event(self._event, line, kind, name)
        elif self._zone is not None or (kind, name) == ("BEGIN", "VTIMEZONE"):
            self._take_in_zone(line, kind, name)
        elif kind:
            self._nest(kind, name)
        elif not self._inner:
            self._take_property(line)

    def close(self, flaw: str) -> None:
        """The open event, if any, is over: at its END, or cut off when ``flaw`` says so."""
        event, self._event, self._inner = self._event, None, []
        if event is None:
            return
        block = event.block
        block.text = shown_text(b"\n".join(event.shown))
        if event.left_out:
            block.text += f"\n[{event.left_out:,} more bytes]"
        names = sum(content.name.startswith("X-") for content in block.lines)
        block.flaw = flaw or event.flaw or (TOO_MANY if names > MOST_NAMES else "")
        self.blocks.append(block)
        self._count(event.size + min(event.values, MOST_VALUES))

    def _take_in_event(self, event: _Event, line: UnfoldedLine, kind: str, name: str) -> None:
        event.show(line)
        if b"\x00" in line.data:
            event.flaw = event.flaw or HOLDS_NUL
        elif not line.data.isascii() and line.text() is None:
            event.flaw = event.flaw or NOT_UTF8
        if (kind, name) == ("END", "VEVENT"):
            self.close("")
        elif kind:
            if name != "VEVENT":
                self._nest(kind, name)
        elif not self._inner:
            event.keep(line)

    def _take_in_zone(self, line: UnfoldedLine, kind: str, name: str) -> None:
        zone = self._zone = self._zone or []
        content = line.content()
        if content is not None and len(zone) < MOST_ZONE_LINES:
            zone.append(content)
            self._count(len(line.data))
        if (kind, name) == ("END", "VTIMEZONE"):
            for each in zone:
                if each.name == "TZID":
                    self._scope.zones.setdefault(each.value.strip(), zone)
            self._zone = None

    def _take_property(self, line: UnfoldedLine) -> None:
        if line.data[:7].upper().startswith((b"METHOD", b"CALSCAL", b"X-WR-TI")):
            content = line.content()
            if content is not None and content.name in OF_THE_CALENDAR:
                self._scope.properties.setdefault(content.name, content.value.strip())

    def _nest(self, kind: str, name: str) -> None:
        if kind == "BEGIN":
            self._inner.append(name)
        elif name in self._inner:
            while self._inner.pop() != name:
                pass

    def _count(self, size: int) -> None:
        self._kept += size
        if self._kept > MOST_KEPT:
            most = MOST_KEPT >> 20
            raise FeedError(f"{self._file} holds more than {most} MiB of events. Export the calendar in shorter spans.")
