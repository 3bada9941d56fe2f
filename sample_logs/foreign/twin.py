"""Writes the canonical twin: the second room's content in the program's own columns, words and ISO 8601 times."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import astuple

from sample_logs.foreign.acting import Acted
from sample_logs.foreign.booked import booking_ids
from sample_logs.foreign.house import MACHINES, NAME, REGISTER, WHOLE_SECONDS
from sample_logs.room.instants import as_local
from sample_logs.room.logbook import Booking, Event, Order, Ticket

SITE = f"""# The canonical twin of an invented room in an invented town: the same content in the program's own columns.
name = "{NAME}"
timezone = "Europe/Stockholm"
day_starts = "06:00"
frame_rate = 25
"""
EVENTS = "at,machine,event,value,detail"
SWITCHES = "at,action,channel,from_machine,to_machine,reason,by"
TICKETS = "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,written_by"
BOOKINGS = "booking,transmission,channel,programme,show,reel,machine,role,starts,ends"
REGISTERED = "machine,kind,pair,group,installed,retired,replacement_cost"
LABELS = "reel,programme,show,recorded_on,recorded_by,recorded_at"


def write_twin(acted: Acted) -> dict[str, bytes]:
    """Every file of the twin by its path."""
    book = acted.book
    events = sorted(book.events, key=lambda row: row.at)
    of_machines = {machine: [_event(row) for row in events if row.machine == machine] for machine in MACHINES}
    orders = sorted(book.orders, key=lambda row: (row.at, row.channel, row.action))
    return {
        "site.toml": SITE.encode(),
        **{f"events/{machine}.csv": _sheet(EVENTS, rows) for machine, rows in of_machines.items()},
        "switches.csv": _sheet(SWITCHES, map(_order, orders)),
        "tickets.csv": _sheet(TICKETS, map(_ticket, book.tickets)),
        "bookings.csv": _sheet(BOOKINGS, map(_booking, book.bookings, booking_ids(acted))),
        "machines.csv": _sheet(
            REGISTERED, ([m.machine, m.kind, m.pair, m.group, m.installed, "", m.replacement_cost] for m in REGISTER)
        ),
        "reels.csv": _sheet(LABELS, ([*astuple(row)[:5], _stamp(row.recorded_at)] for row in acted.labels)),
    }


def _sheet(header: str, rows: Iterable[Iterable[object]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header.split(","))
    writer.writerows(rows)
    return text.getvalue().encode()


def _stamp(at: int | None, timespec: str = "minutes") -> str:
    """Wall clock with its offset, so that no hour is meant twice."""
    return "" if at is None else as_local(at).isoformat(timespec=timespec)


def _event(row: Event) -> list[str]:
    timespec = "seconds" if row.machine == WHOLE_SECONDS else "milliseconds"
    return [_stamp(row.at, timespec), row.machine, row.event, row.value, row.detail]


def _order(row: Order) -> list[str]:
    return [_stamp(row.at, "milliseconds"), *map(str, astuple(row)[1:])]


def _ticket(row: Ticket) -> list[str]:
    times = (_stamp(row.opened), _stamp(row.restored), _stamp(row.closed))
    return [row.ticket, row.machine, *times, *map(str, astuple(row)[5:])]


def _booking(row: Booking, booking: str) -> list[str]:
    return [booking, *map(str, astuple(row)[1:8]), _stamp(row.starts), _stamp(row.ends)]
