"""Scenes at the edges of a transmission: its start, its end, and the edges of months, clocks and logs."""

from __future__ import annotations

from sample_logs.room.instants import SECOND, month_of, month_start
from sample_logs.room.schedule import AS_OF
from sample_logs.room.show import Show


def overrun(show: Show) -> None:
    """The programme is longer than its booking."""
    slot, length = show.slot, show.between(12, 75)
    show.proofs(slot.start, slot.end - 60 * SECOND)
    show.off(slot.end)
    show.beside("overrun", slot.end, slot.end + length, show.feed)
    show.take(slot.end + length, "standby", "planned")
    show.clear_away(length)
    show.oddity(slot.end, f"{show.reel.air} stays on air {length / 1000:.3f} s past the end")


def stops_early(show: Show) -> None:
    """The programme ends 8 s early by a stop: the window ends there."""
    _stop_early(show, 8 * SECOND)


def stops_just_in_time(show: Show) -> None:
    """The same, exactly 15 s early."""
    _stop_early(show, 15 * SECOND)


def slate_early(show: Show) -> None:
    """Planned slate 5 s before the end: the window ends there."""
    at = show.slot.end - 5 * SECOND
    show.proofs(show.slot.start, at)
    show.take(at, "standby", "planned")
    show.oddity(at, "planned slate 5 s before the booked end")
    show.close(at)


def runs_out(show: Show) -> None:
    """The reel runs out 20 s before the end: lost air to the end."""
    end, air = show.slot.end, show.reel.air
    at = end - 20 * SECOND
    show.proofs(show.slot.start, at)
    show.halt(air, at)
    show.halt(show.reel.protect, at + 310)
    show.on(at, air, "lost")
    show.interrupted(at, end, air)
    recovery = show.recovery(at, air)
    recovery.to_air = recovery.to_take = recovery.to_cover = (20 * SECOND, False)
    show.oddity(at, f"{air} and {show.reel.protect} run out 20 s before the booked end")
    show.close()


def late_roll(show: Show) -> None:
    """Both machines are started just before air and lock in air."""
    air, protect, start = show.reel.air, show.reel.protect, show.slot.start
    show.make_bookings()
    for machine in (air, protect):
        show.log(machine, start - 480 * SECOND, "clean")
        show.log(machine, start - 300 * SECOND, "lineup")
        show.stage.book.start(show.slot.channel, start - 200, machine)
        show.log(machine, start - 200, "roll")
        show.rolling[machine] = start - 200
    show.take(start, air)
    show.on(start, air, "lost")
    show.log(air, start + 3480, "lock")
    show.on(start + 3480, air, "exposed", "not good")
    show.log(protect, start + 3900, "lock")
    show.on(start + 3900, air, "unproved")
    show.offset(protect, start + 17 * SECOND, 20)
    show.on(start + 17 * SECOND, air, "covered")
    show.interrupted(start, start + 3480, air, healed=True)
    show.recovery(start, air).to_air = (3480, True)
    show.oddity(start, f"{air} is started 0.2 s before air and locks 3.48 s into it")
    show.carry_on(start + 60 * SECOND)


def late_take(show: Show) -> None:
    """The first take comes late: slate until then."""
    start, air = show.slot.start, show.reel.air
    show.make_bookings()
    show.run_up(show.reel)
    show.on(start, None, "lost")
    show.take(start + 4240, air)
    show.on(start + 4240, air, "covered")
    show.interrupted(start, start + 4240, None, demand=False)
    show.recovery(start, None).to_air = (4240, True)
    show.oddity(start, "first take 4.24 s late, slate until then")
    show.carry_on(start + 60 * SECOND)


def rehearsal_before(show: Show) -> None:
    """The takes are practised before air, and the selector is left where it belongs."""
    start, air, protect = show.slot.start, show.reel.air, show.reel.protect
    show.make_bookings()
    show.run_up(show.reel, 400)
    show.take(start - 300 * SECOND, air, "rehearsal")
    show.take(start - 280 * SECOND, protect, "rehearsal")
    show.take(start - 200 * SECOND, air, "rehearsal")
    show.on(start, air, "covered")
    show.oddity(start - 300 * SECOND, "takes practised before air; no take at the start")
    show.carry_on(start)


def protect_late(show: Show) -> None:
    """Protect is only started when the programme is already on."""
    start, air, protect = show.slot.start, show.reel.air, show.reel.protect
    show.make_bookings()
    show.ready(air, start - 1500 * SECOND)
    show.log(protect, start - 400 * SECOND, "clean")
    show.roll(air, start - 88 * SECOND)
    show.take(start, air)
    show.on(start, air, "exposed", "not good")
    locked = show.roll(protect, start + show.between(100, 240))
    show.on(locked, air, "unproved")
    first = locked + show.between(9, 14)
    show.offset(protect, first, 180)
    show.on(first, air, "exposed", "out of step")
    show.offset(protect, first + 12 * SECOND, 4)
    show.on(first + 12 * SECOND, air, "covered")
    show.oddity(start, f"protect {protect} is started after the programme")
    show.carry_on(first + 60 * SECOND)


def over_the_month(show: Show) -> None:
    """On air while the month ends, off air at that instant."""
    edge, air = month_start(month_of(show.slot.end)), show.reel.air
    show.log(air, edge - 1500, "picture_lost")
    show.on(edge - 1500, air, "lost")
    show.log(air, edge + 2000, "picture_back")
    show.on(edge + 2000, air, "covered")
    show.interrupted(edge - 1500, edge + 2000, air, healed=True)
    recovery = show.recovery(edge - 1500, air)
    recovery.to_air = recovery.to_cover = (3500, True)
    show.oddity(edge, f"on air while the month ends; {air} has no picture from 1.5 s before to 2.0 s after")
    show.carry_on(edge + 120 * SECOND)


def cut_by_the_last_line(show: Show) -> None:
    """The logs end while the programme is on, and while it is off air."""
    at, air = AS_OF - 8800, show.reel.air
    show.proofs(show.slot.start, at - 60 * SECOND)
    show.log(air, at, "picture_lost")
    show.on(at, air, "lost")
    show.log(show.reel.protect, AS_OF, "alarm", detail="hum")
    show.interrupted(at, AS_OF, air)
    recovery = show.recovery(at, air)
    recovery.to_air = recovery.to_take = recovery.to_cover = (8800, False)
    show.oddity(at, f"{air} loses picture 8.8 s before the last line of any log")
    show.off(AS_OF)


def _stop_early(show: Show, early: int) -> None:
    at, air = show.slot.end - early, show.reel.air
    show.proofs(show.slot.start, at)
    show.halt(air, at)
    show.halt(show.reel.protect, at + 340)
    show.oddity(at, f"{air} stops {early // SECOND} s before the booked end")
    show.close(at)
