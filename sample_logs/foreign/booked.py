"""Which booking stands under which entry of the calendar, and what the entry is called there."""

from __future__ import annotations

from dataclasses import dataclass

from sample_logs.foreign.acting import Acted
from sample_logs.foreign.days import SUNDAYS, Sending
from sample_logs.room.logbook import Booking

HOUSE = "ekervattna.example"


@dataclass(frozen=True)
class Entry:
    """A booking with its calendar entry: `slot` where it belongs to a series, else None."""

    booking: Booking
    uid: str
    slot: Sending | None

    @property
    def booking_id(self) -> str:
        """What the booking is called once the calendar is read: the entry, and of a series the start by its rule."""
        return f"{self.uid}/{self.slot.turn}" if self.slot else self.uid


def entries(acted: Acted) -> list[Entry]:
    """Every booking with its calendar entry, in the order of the bookings."""
    of_series = {slot.transmission: slot for slot in acted.slots if slot.series}
    return [_entry(row, of_series.get(row.transmission)) for row in acted.book.bookings]


def booking_ids(acted: Acted) -> list[str]:
    """What each booking is called, in their order."""
    return [entry.booking_id for entry in entries(acted)]


def _entry(row: Booking, slot: Sending | None) -> Entry:
    if slot is None:
        return Entry(row, f"{row.booking.lower()}@{HOUSE}", None)
    return Entry(row, f"{'sondag' if slot.series is SUNDAYS else 'kvall'}-{row.role}@{HOUSE}", slot)
