"""One transmission of the second room: the first room's acts, with this room's programmes, tickets and old log card."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sample_logs.foreign.days import Sending
from sample_logs.foreign.house import AS_OF, DOUBLED_HOUR, WHOLE_SECONDS, reel_number, unambiguous_minute
from sample_logs.foreign.tickets_said import words_said
from sample_logs.room.instants import HOUR, MINUTE, SECOND
from sample_logs.room.logbook import Booking, Ticket
from sample_logs.room.show import Show
from sample_logs.room.truth import Recovery


@dataclass
class Showing(Show):
    """One transmission in progress."""

    slot: Sending

    @property
    def is_whole(self) -> bool:
        """Whether a machine takes part whose log has whole seconds only: then everything happens on whole seconds."""
        return WHOLE_SECONDS in (*self.slot.machines, self.slot.spare)

    def between(self, low_s: float, high_s: float) -> int:
        """A length drawn between two, in milliseconds; of whole seconds where the old log card is in it."""
        if not self.is_whole:
            return super().between(low_s, high_s)
        low, high = math.ceil(low_s), math.floor(high_s)
        return self.random.randint(low, high) * SECOND if low <= high else low * SECOND

    def make_bookings(self) -> None:
        """Write the bookings of this transmission."""
        slot = self.slot
        show = f"del {slot.episode % 100}" if slot.series is None else ""
        for part, reel in enumerate(slot.reels, start=1):
            for copy, machine, role in (("A", reel.air, "air"), ("B", reel.protect, "protect")):
                if machine:
                    number = reel_number(slot.episode, part, copy)
                    self.boxes[machine] = number
                    booked = "" if slot.series else number  # the rule of a series cannot name the reel
                    what = (slot.transmission, slot.channel, slot.title, show, booked)
                    self.stage.book.book(Booking("", *what, machine, role, reel.start, reel.end))

    def ticket(self, recovery: Recovery | None, machine: str, after: int, kind: str, *, left: str = "") -> Ticket:
        """Write a ticket some minutes after an instant and tie it to its recovery, as the first room does.

        No time of it falls into the doubled hour: a workbook's cells cannot say which of the two they mean.
        """
        opened = unambiguous_minute(after + self.between(180, 2400))
        restored = unambiguous_minute(opened + self.random.randint(20, 540) * MINUTE) if not left else None
        closed = unambiguous_minute((restored or opened) + self.random.randint(10, 1440) * MINUTE)
        restored = restored if restored is None or restored <= AS_OF else None
        shut = closed if left != "open" and closed <= AS_OF else None
        if recovery is not None:
            recovery.to_service = ((restored or shut or AS_OF) - opened, restored is not None)
        reel = self.boxes[machine] if kind == "picture" else ""
        made = self.stage.book.ticket(machine, opened, restored, shut, reel=reel, **words_said(self.random, kind))
        if recovery is not None:
            recovery.ticket = made.ticket
        if restored is None:
            what = "is still open" if shut is None else "was closed without a restored time"
            self.oddity(opened, f"ticket {made.ticket} {what}", "ticket without an end")
        return made


def over_the_doubled_hour(show: Showing) -> None:
    """What happens in the hour that is twice makes sense only in the right order; read by wall time it would not.

    Takes at 02:10 and 02:25 for the first time and 02:05 for the second. Protect, whose log is on wall time without an
    offset, reads 0.041 s at 02:35 for the first time, is brought back at 02:20 for the second, and loses picture for
    150 s at 02:31:07 for the second time.
    """
    air, protect = show.reel.air, show.reel.protect
    again = DOUBLED_HOUR + HOUR
    practice, away, slate = DOUBLED_HOUR + 10 * MINUTE, DOUBLED_HOUR + 35 * MINUTE, again + 5 * MINUTE
    show.proofs(show.slot.start, away)
    for at, machine in ((practice, protect), (practice + 15 * MINUTE, air)):
        show.switch(at, machine, "planned", "rehearsal")
        show.on(at, machine, "covered")
    show.offset(protect, away, 41)
    show.on(away, air, "exposed", "out of step")
    _slate(show, slate, 30 * SECOND)
    show.on(slate + 30 * SECOND, air, "exposed", "out of step")
    back = again + 20 * MINUTE
    show.offset(protect, back, -12)
    show.on(back, air, "covered")
    gone = again + 31 * MINUTE + 7 * SECOND
    show.log(protect, gone, "picture_lost")
    show.on(gone, air, "exposed", "not good")
    show.log(protect, gone + 150 * SECOND, "picture_back")
    show.on(gone + 150 * SECOND, air, "covered")
    show.oddity(practice, "takes at 02:10 and 02:25 for the first time, and at 02:05 for the second")
    show.oddity(away, f"{protect} is out of step from 02:35 for the first time to 02:20 for the second")
    show.oddity(gone, f"{protect} has no picture for 150 s from 02:31:07 for the second time")
    show.carry_on(gone + 200 * SECOND)


def _slate(show: Showing, at: int, length: int) -> None:
    """A planned interval on slate."""
    show.take(at, "standby", "planned")
    show.on(at, None, "lost")
    show.take(at + length, show.reel.air, "planned")
    show.interrupted(at, at + length, None, demand=False)
    show.recovery(at, None).to_air = (length, True)
