"""Scenes in which a machine fails on air and protect does not save the programme: it heals, or it cannot.

Each writes the log lines and states the truth side by side.
"""

from __future__ import annotations

from sample_logs.room.instants import SECOND
from sample_logs.room.scenes_saves import moment
from sample_logs.room.show import Show


def healed(show: Show) -> None:
    """Picture or sound drops out for a moment and comes back before anybody can take protect."""
    at = moment(show)
    kind = show.random.choice(("picture", "picture", "sound"))
    _dropout(show, at, show.between(0.2, 3.0), kind)
    show.carry_on(at + 60 * SECOND)


def healed_merged(show: Show) -> None:
    """Two dropouts 0.8 s apart: one interruption."""
    at, air = moment(show), show.reel.air
    for start, end in ((0, 400), (1200, 1500)):
        show.log(air, at + start, "picture_lost")
        show.on(at + start, air, "lost")
        show.log(air, at + end, "picture_back")
        show.on(at + end, air, "covered")
    show.interrupted(at, at + 1500, air, healed=True, lost=700)
    recovery = show.recovery(at, air)
    recovery.to_air = recovery.to_cover = (1500, True)
    show.oddity(at, f"{air} drops out for 0.4 s and 0.3 s, 0.8 s apart: one interruption, 0.7 s lost")
    show.carry_on(at + 60 * SECOND)


def healed_apart(show: Show) -> None:
    """Two dropouts exactly one second apart: two interruptions."""
    at = moment(show)
    _dropout(show, at, 500, "picture")
    _dropout(show, at + 1500, 700, "picture")
    show.oddity(at, f"{show.reel.air} drops out twice, exactly 1.000 s apart: two interruptions")
    show.carry_on(at + 60 * SECOND)


def both_dip_third(show: Show) -> None:
    """A mains dip takes both machines out of lock; slate, then a third machine."""
    at, air, protect, third = moment(show), show.reel.air, show.reel.protect, show.slot.spare
    show.proofs(show.slot.start, at - 60 * SECOND)
    show.log(air, at, "unlock")
    show.log(protect, at + 400, "unlock")
    show.on(at, air, "lost")
    show.roll(third, at + 2 * SECOND)
    show.switch(at + 6 * SECOND, third, "forced", "fault", slate=True)
    show.on(at + 6 * SECOND, None, "lost")
    show.take(at + 20 * SECOND, third, "fault")
    show.on(at + 20 * SECOND, third, "exposed", "not good")
    show.halt(air, at + 41 * SECOND)
    show.halt(protect, at + 43 * SECOND)
    show.interrupted(at, at + 20 * SECOND, air)
    recovery = show.recovery(at, air)
    recovery.to_air, recovery.to_take = (20 * SECOND, True), (6 * SECOND, True)
    recovery.to_cover = (show.slot.end - at, False)
    show.ticket(recovery, air, at, "mains")
    show.oddity(at, f"mains dip: {air} and {protect} lose lock within a second; slate, then {third}")
    show.close()


def both_dip_healed(show: Show) -> None:
    """A mains dip takes both machines out of lock; both come back by themselves."""
    at, air, protect = moment(show), show.reel.air, show.reel.protect
    show.proofs(show.slot.start, at - 60 * SECOND)
    show.log(air, at, "unlock")
    show.log(protect, at + 400, "unlock")
    show.on(at, air, "lost")
    show.log(air, at + 5200, "lock")
    show.on(at + 5200, air, "exposed", "not good")
    show.log(protect, at + 6100, "lock")
    show.on(at + 6100, air, "unproved")
    show.offset(protect, at + 31 * SECOND, 12)
    show.on(at + 31 * SECOND, air, "covered")
    show.interrupted(at, at + 5200, air, healed=True)
    recovery = show.recovery(at, air)
    recovery.to_air, recovery.to_cover = (5200, True), (31 * SECOND, True)
    written = show.ticket(recovery, protect, at, "mains")
    show.oddity(
        at, f"mains dip: {air} and {protect} lose lock and find it again; ticket {written.ticket} is on protect"
    )
    show.carry_on(at + 90 * SECOND)


def protect_not_locked(show: Show) -> None:
    """The air machine fails while protect is out of lock: slate until protect is there."""
    at, air, protect = moment(show), show.reel.air, show.reel.protect
    gone = at - show.between(80, 150)
    show.log(protect, gone, "unlock")
    show.on(gone, air, "exposed", "not good")
    show.log(air, at, "picture_lost")
    show.on(at, air, "lost")
    show.switch(at + 5 * SECOND, protect, "forced", "fault", slate=True)
    show.on(at + 5 * SECOND, None, "lost")
    show.log(protect, at + 26 * SECOND, "lock")
    show.take(at + 31 * SECOND, protect, "fault")
    show.on(at + 31 * SECOND, protect, "exposed", "not good")
    show.log(air, at + 150 * SECOND, "picture_back")
    show.on(at + 150 * SECOND, protect, "unproved")
    show.offset(protect, at + 190 * SECOND, -14)
    show.on(at + 190 * SECOND, protect, "covered")
    show.interrupted(at, at + 31 * SECOND, air)
    recovery = show.recovery(at, air)
    recovery.to_air, recovery.to_take = (31 * SECOND, True), (5 * SECOND, True)
    show.ticket(recovery, protect, at, "protect")
    show.oddity(at, f"{air} fails while protect {protect} is out of lock: 31 s lost, most of it slate")
    show.carry_on(at + 200 * SECOND)


def protect_out_of_step(show: Show) -> None:
    """The air machine fails while protect is out of step: taken all the same."""
    at, air, protect = moment(show), show.reel.air, show.reel.protect
    gone = at - show.between(80, 150)
    show.offset(protect, gone, 120)
    show.on(gone, air, "exposed", "out of step")
    show.log(air, at, "picture_lost")
    show.on(at, air, "lost")
    show.switch(at + 2400, protect, "forced")
    show.on(at + 2400, protect, "exposed", "not good")
    show.log(air, at + 90 * SECOND, "picture_back")
    show.on(at + 90 * SECOND, protect, "exposed", "out of step")
    show.offset(protect, at + 130 * SECOND, 8)
    show.on(at + 130 * SECOND, protect, "covered")
    show.interrupted(at, at + 2400, air)
    recovery = show.recovery(at, air)
    recovery.to_air = recovery.to_take = (2400, True)
    show.ticket(recovery, air, at, "picture")
    show.oddity(at, f"{air} fails while protect {protect} is 0.120 s out of step: taken, but not met")
    show.carry_on(at + 150 * SECOND)


def recorded_fault(show: Show) -> None:
    """A fault that was recorded: both copies lose picture at the same place on the reel."""
    at, air, protect = show.slot.start + 741_240, show.reel.air, show.reel.protect
    show.log(air, at, "picture_lost")
    show.on(at, air, "lost")
    show.log(protect, at + 20, "picture_lost")
    show.log(air, at + 4000, "picture_back")
    show.on(at + 4000, air, "exposed", "not good")
    show.log(protect, at + 4020, "picture_back")
    show.on(at + 4020, air, "covered")
    show.interrupted(at, at + 4000, air, healed=True)
    recovery = show.recovery(at, air)
    recovery.to_air, recovery.to_cover = (4000, True), (4020, True)
    show.oddity(at, f"both copies of reel {show.slot.programme}-1 lose picture 12:21.24 into the reel")
    show.carry_on(at + 60 * SECOND)


def alone_and_failing(show: Show) -> None:
    """No protect booked, and the machine stops: off air until it is rolling and locked again."""
    at, air = moment(show), show.reel.air
    show.log(air, at, "stop")
    show.on(at, air, "lost")
    back = show.roll(air, at + show.between(14, 25))
    show.on(back, air, "exposed", "none booked")
    show.interrupted(at, back, air, healed=True, unprotected=True)
    recovery = show.recovery(at, air)
    recovery.to_air = (back - at, True)
    show.ticket(recovery, air, at, "stop")
    show.oddity(at, f"{air} stops with no protect booked, off air until it is locked again")
    show.close()


def _dropout(show: Show, at: int, length: int, kind: str) -> None:
    air = show.reel.air
    show.log(air, at, f"{kind}_lost")
    show.on(at, air, "lost")
    show.log(air, at + length, f"{kind}_back")
    show.on(at + length, air, "covered")
    show.interrupted(at, at + length, air, healed=True)
    recovery = show.recovery(at, air)
    recovery.to_air = recovery.to_cover = (length, True)
