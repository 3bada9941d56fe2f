"""Reads RFC 5545 calendars: an occurrence of a VEVENT a row, whatever of them recurs.

Rows are numbered in the order of the physical lines of their events, and of their starts within an event, because one
line may give many rows and a row is known by its file and number; the text of each says on which line its event begins.
To-dos, journal entries, free-busy times and alarms are no rows.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import BinaryIO, NamedTuple
from zoneinfo import ZoneInfo

import polars as pl

from pipeline.ingest.batch import FINDING_SCHEMA, Batch, aside_rows, cell_name, tidy_cells
from pipeline.ingest.calendars.calendar_blocks import read_blocks
from pipeline.ingest.calendars.calendar_events import Event, cells_of, read_event
from pipeline.ingest.calendars.calendar_lines import MOST_BYTES
from pipeline.ingest.calendars.calendar_series import BEYOND, Occurrence, Outcome, settle
from pipeline.ingest.calendars.calendar_times import LONGEST_QUOTE, iso
from pipeline.ingest.calendars.calendar_zones import Zones

OWN = ("booking", "uid", "recurrence_id", "starts", "ends")
TEXTS = (
    "summary",
    "location",
    "description",
    "categories",
    "status",
    "transp",
    "class",
    "sequence",
    "organizer",
    "url",
)
HEADERS = (*OWN, *TEXTS)
ROWS_IN_A_BATCH = 10_000
LETTERS_IN_A_BATCH = 32 * 1024 * 1024
NAMES_IN_A_BATCH = 5_000
MOST_OF_AN_EVENT = (
    16 * 1024 * 1024
)  # letters of all rows of one event: of long texts of many occurrences a part is kept


class _Entry(NamedTuple):
    """A row to be: an occurrence, or else the reason why the event, or what is left of it, is none."""

    event: Event
    occurrence: Occurrence | None
    reason: str


def read_calendar(stream: BinaryIO, file: str, zone: ZoneInfo, *, until: date | None = None) -> Iterator[Batch]:
    """The occurrences of all events of a calendar file, of one or several VCALENDARs, in batches.

    ``starts`` and ``ends`` are in UTC. Times that name no zone are in X-WR-TIMEZONE where the calendar has that
    property, else in ``zone``; a date is the midnight it begins at in ``zone``. ``booking`` is the UID, of an
    occurrence of a recurring event also "/" and where the event had it first, in UTC (``recurrence_id``), so that one
    that is moved keeps it.
    Headers are ``HEADERS`` and every X- property met in the batch, sorted, under its name.

    A recurrence without an end is read to before ``until``, without one to 400 days after the newest time the file
    names; one that has an end in full, unless that is more than 10,000 occurrences. Cancelled events and occurrences,
    versions of an event that another one replaces, and what cannot be read are set aside.

    Raises:
        FeedError: the file is no calendar, or holds more than can be kept.
    """
    zones = Zones()
    events = [read_event(block, zones, zone) for block in read_blocks(stream, file)]
    outcome = settle(events, zone, until)
    entries = _in_order(outcome)
    findings = _findings(entries, outcome, zone, is_asked=until is not None)
    rows_of = Counter(id(entry.event) for entry in entries)
    line = 1
    for part in _parts(entries, rows_of):
        yield _batch(part, line, rows_of, findings)
        line, findings = line + len(part), findings.clear()


def _in_order(outcome: Outcome) -> list[_Entry]:
    occurrences = sorted(outcome.occurrences, key=lambda each: (each.event.block.line, each.starts_at))
    entries = [_Entry(each.event, each, "") for each in occurrences]
    entries += [_Entry(event, None, reason) for event, reason in outcome.aside]
    return sorted(entries, key=lambda each: each.event.block.line)


def _parts(entries: Sequence[_Entry], rows_of: Mapping[int, int]) -> Iterator[Sequence[_Entry]]:
    """The entries cut into batches that are bounded in rows, letters and columns."""
    start = letters = 0
    names: set[str] = set()
    last: Event | None = None
    for position, entry in enumerate(entries):
        if position - start >= ROWS_IN_A_BATCH or letters > LETTERS_IN_A_BATCH or len(names) > NAMES_IN_A_BATCH:
            yield entries[start:position]
            start, letters, names = position, 0, set(_names(entry.event))
        letters += min(2 * len(entry.event.block.text), MOST_OF_AN_EVENT // rows_of[id(entry.event)])
        if entry.event is not last:
            names.update(_names(entry.event))
            last = entry.event
    if entries:
        yield entries[start:]


def _names(event: Event) -> Iterator[str]:
    return (line.name for line in event.block.lines if line.name.startswith("X-"))


def _batch(part: Sequence[_Entry], first_line: int, rows_of: Mapping[int, int], findings: pl.DataFrame) -> Batch:
    headers = (*HEADERS, *sorted({name for entry in part for name in _names(entry.event)}))
    rows: dict[str, list[object]] = {"line": [], "text": [], **{header: [] for header in headers}}
    aside: list[tuple[int, str, str]] = []
    last, text, cells = None, "", dict[str, str]()
    for line, entry in enumerate(part, start=first_line):
        if entry.event is not last:
            last, (text, cells) = entry.event, _texts(entry.event, rows_of[id(entry.event)])
        if entry.occurrence is None:
            aside.append((line, text, entry.reason))
            continue
        row = {"line": line, "text": text, **cells, **_own_cells(entry.occurrence)}
        for name, column in rows.items():
            column.append(row.get(name))
    schema = {"line": pl.Int64} | dict.fromkeys(("text", *headers), pl.String)
    named = {header: cell_name(place) for place, header in enumerate(headers)}
    frame = tidy_cells(pl.DataFrame(rows, schema=schema).rename(named))
    lines, texts, reasons = zip(*aside, strict=True) if aside else ((), (), ())
    return Batch(headers, frame, aside_rows(lines, texts, pl.Series(reasons, dtype=pl.String)), findings)


def _texts(event: Event, rows: int) -> tuple[str, dict[str, str]]:
    """The text of each row of an event, and its cells; parts of them where all rows together would be too long."""
    text, cells = f"line {event.block.line}: {event.block.text}", cells_of(event)
    room = MOST_OF_AN_EVENT // rows
    if len(text) + sum(map(len, cells.values())) <= room:
        return text, cells
    room //= len(cells) + 1
    return text[:room], {name: cell[:room] for name, cell in cells.items()}


def _own_cells(occurrence: Occurrence) -> dict[str, str]:
    uid, original_at = occurrence.event.uid, occurrence.original_at
    cells = {"uid": uid, "starts": iso(occurrence.starts_at), "ends": iso(occurrence.ends_at), "booking": uid}
    if original_at is not None:
        cells["recurrence_id"] = iso(original_at)
        compact = cells["recurrence_id"].replace("-", "").replace(":", "")
        cells["booking"] = uid and f"{uid}/{compact}"
    return cells


def _findings(entries: Sequence[_Entry], outcome: Outcome, zone: ZoneInfo, *, is_asked: bool) -> pl.DataFrame:
    """What was decided about the file, and what of it is kept in part; each on the first row that it is about."""
    found: dict[tuple[str, str], int] = {}
    for line, entry in enumerate(entries, start=1):
        block = entry.event.block
        for name, size in block.cut:
            what = f"{name} of the event on line {block.line} has {size:,} bytes; its first {MOST_BYTES:,} are kept."
            found.setdefault(("cut", what), line)
        if entry.event.clock.is_floating and (what := _floating(entry.event, zone)):
            found.setdefault(("decided", what), line)
        if outcome.ended_at and entry.event.rules and not is_asked:
            what = (
                f"Recurrences without an end, or with a very late one, are read to {iso(outcome.ended_at)}, "
                f"{BEYOND.days} days after the newest time in the file. Set until in its [[feeds]] table to choose."
            )
            found.setdefault(("decided", what), line)
    rows = [(line, kind, what) for (kind, what), line in found.items()]
    return pl.DataFrame(rows, schema=FINDING_SCHEMA, orient="row")


def _floating(event: Event, zone: ZoneInfo) -> str:
    named = event.block.scope.properties.get("X-WR-TIMEZONE", "")[:LONGEST_QUOTE]
    if not named or named == zone.key:
        return ""
    if event.clock.default is zone:
        return f'X-WR-TIMEZONE "{named}" is not known: times that name no zone are read in {zone.key}.'
    return f'Times that name no zone are read in X-WR-TIMEZONE "{named}", dates as days in {zone.key}.'
