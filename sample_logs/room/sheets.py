"""Spreads what the room wrote down over its files, and counts what a reader will find in each."""

from __future__ import annotations

import csv
import gzip
import hashlib
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, replace

import polars as pl

from sample_logs.room.catalogue import Label
from sample_logs.room.instants import HOUR, MINUTE, stamp_minute, stamp_utc
from sample_logs.room.logbook import Booking, Event, Order, Ticket
from sample_logs.room.mess import Sheet, make_mess
from sample_logs.room.parts import STAMPS, Part, write_parts
from sample_logs.room.plant import REGISTER
from sample_logs.room.play import Played

TICKETS = "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,written_by"
BOOKINGS = "booking,transmission,channel,programme,show,reel,machine,role,starts,ends"
SWITCHES = "at,action,channel,from_machine,to_machine,reason,by,panel"


@dataclass(frozen=True)
class Counted:
    """A finished file and the rows a reader finds in it."""

    path: str
    feed: str
    content: bytes
    read: int
    repeats: int = 0
    set_aside: int = 0

    def row(self) -> dict[str, str | int]:
        """The file as figures.json lists it."""
        kept = self.read - self.repeats - self.set_aside
        counts = {"read": self.read, "kept": kept, "repeats": self.repeats, "set_aside": self.set_aside}
        return {"path": self.path, "sha256": hashlib.sha256(self.content).hexdigest(), "feed": self.feed, **counts}


def write_sheets(played: Played) -> list[Counted]:
    """Every feed file of the room, in order of its path."""
    book = played.book
    files = _events(sorted(book.events, key=lambda row: (row.at, row.machine)))
    files += [
        _sheet(
            "switches.csv", "switches", SWITCHES, [_order_cells(row) for row in sorted(book.orders, key=_order_key)]
        ),
        _tickets(sorted(book.tickets, key=lambda row: row.ticket)),
        _bookings(book.bookings),
        _sheet(
            "machines.csv", "machines", "machine,kind,pair,group,installed,retired,replacement_cost,bay", _register()
        ),
        _sheet("reels.csv", "reels", "reel,programme,show,recorded_on,recorded_by,recorded_at", _labels(played.labels)),
    ]
    return sorted(files, key=lambda file: file.path)


def _events(events: list[Event]) -> list[Counted]:
    seen: set[Event] = set()
    files = []
    for part in write_parts():
        rows = [row for row in events if part.holds(row)]
        again = sum(row in seen for row in rows)
        seen |= set(rows)
        files.append(_event_file(part, rows, again))
    if len(seen) != len(events):
        raise AssertionError("two lines of a log are the same by chance, or a line is in no file")
    return files


def _event_file(part: Part, rows: list[Event], again: int) -> Counted:
    cells = [_event_cells(part, row) for row in rows]
    if part.path.endswith(".parquet"):
        return Counted(part.path, "events", _parquet(cells), len(cells), again)
    lines = [_json_line(row) if part.path.endswith(".jsonl") else _csv_line(row.values()) for row in cells]
    header = b"" if part.path.endswith(".jsonl") else _csv_line(part.columns)
    sheet = Sheet(part.path, "events", header, lines, again)
    return _finish(sheet, part.newline.encode(), b"\xef\xbb\xbf" if part.byte_order_mark else b"")


def _event_cells(part: Part, row: Event) -> dict[str, str]:
    every = {
        "at": STAMPS[part.stamp](row.at),
        "machine": row.machine,
        "event": row.event,
        "value": row.value,
        "detail": row.detail,
        "tension_mv": str(400 + row.at % 37),
        "reader": "card 2",
    }
    return {column: every[column] for column in part.columns}


def _parquet(cells: list[dict[str, str]]) -> bytes:
    frame = pl.DataFrame(
        {
            "at": [row["at"] for row in cells],
            "machine": [row["machine"] for row in cells],
            "event": [row["event"] for row in cells],
            "value": [float(row["value"]) if row["value"] else None for row in cells],
            "detail": [row["detail"] or None for row in cells],
        }
    )
    buffer = io.BytesIO()
    frame.write_parquet(buffer, compression="zstd", statistics=False)
    return buffer.getvalue()


def _sheet(path: str, feed: str, header: str, rows: Iterable[Sequence[str]]) -> Counted:
    return _finish(Sheet(path, feed, header.encode(), [_csv_line(row) for row in rows]))


def _finish(sheet: Sheet, newline: bytes = b"\n", opening: bytes = b"") -> Counted:
    make_mess(sheet)
    lines = [sheet.header, *sheet.rows] if sheet.header else sheet.rows
    content = opening + newline.join(lines) + newline
    if sheet.path.endswith(".gz"):
        content = gzip.compress(content, mtime=0)
    return Counted(sheet.path, sheet.feed, content, sheet.read, sheet.repeats, sheet.set_aside)


def _csv_line(cells: Iterable[str]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow(list(cells))
    return text.getvalue().encode()


def _json_line(row: dict[str, str]) -> bytes:
    typed = {key: float(text) if key == "value" else text for key, text in row.items() if text}
    return json.dumps({**typed, "unit": "rack 3"}, ensure_ascii=False).encode()


def _order_key(row: Order) -> tuple[int, str, str]:
    return row.at, row.channel, row.action


def _order_cells(row: Order) -> list[str]:
    desk = {"One": "desk 1", "Two": "desk 2"}.get(row.channel, "night desk")
    return [stamp_utc(row.at), row.action, row.channel, row.source, row.to, row.reason, row.by, desk]


def _stamp(at: int | None) -> str:
    return "" if at is None else stamp_minute(at)


def _ticket_cells(row: Ticket) -> list[str]:
    times = (_stamp(row.opened), _stamp(row.restored), _stamp(row.closed))
    return [row.ticket, row.machine, *times, *map(str, astuple(row)[5:])]


def _tickets(tickets: list[Ticket]) -> Counted:
    """The tickets; three were written twice, first without knowing when the machine would be back."""
    rows = []
    for number, ticket in enumerate(tickets):
        if number in {8, 25, 41}:
            rows.append(
                _ticket_cells(replace(ticket, restored=None, closed=None, action="", part="", symptom="see below"))
            )
        rows.append(_ticket_cells(ticket))
    sheet = Sheet("tickets.csv", "tickets", TICKETS.encode(), [_csv_line(row) for row in rows], set_aside=3)
    return _finish(sheet)


def _booking_cells(row: Booking) -> list[str]:
    return [*map(str, astuple(row)[:8]), stamp_minute(row.starts), stamp_minute(row.ends)]


def _bookings(bookings: list[Booking]) -> Counted:
    """The bookings; two were moved after they were first written."""
    rows = []
    for number, booking in enumerate(bookings):
        if number in {120, 700}:
            moved = replace(booking, starts=booking.starts - HOUR, ends=booking.ends - 40 * MINUTE)
            rows.append(_booking_cells(moved))
        rows.append(_booking_cells(booking))
    sheet = Sheet("bookings.csv", "bookings", BOOKINGS.encode(), [_csv_line(row) for row in rows], set_aside=2)
    return _finish(sheet)


def _register() -> list[list[str]]:
    return [
        [row.machine, row.kind, row.pair, row.group, row.installed, "", str(row.replacement_cost), str(number)]
        for number, row in enumerate(REGISTER, start=11)
    ]


def _labels(labels: list[Label]) -> list[list[str]]:
    return [[*map(str, astuple(row)[:5]), stamp_minute(row.recorded_at)] for row in labels]
