"""Scenes in which nothing fails: what hands on the desk and on the bookings do to a transmission."""

from __future__ import annotations

from sample_logs.room.instants import SECOND
from sample_logs.room.show import READY_BEFORE, Show
from sample_logs.room.truth import Rescue


def plain(show: Show) -> None:
    """A transmission as it should be."""
    show.carry_on(show.slot.start)


def unprotected(show: Show) -> None:
    """No protect machine was booked."""
    show.oddity(show.slot.start, f"{show.reel.air} plays without protect")
    show.close()


def rehearsal_inside(show: Show) -> None:
    """Protect is taken for practice and back again, in step all the time."""
    at, air, protect = _middle(show), show.reel.air, show.reel.protect
    show.switch(at, protect, "planned", "rehearsal")
    show.on(at, protect, "covered")
    show.switch(at + 40 * SECOND, air, "planned", "rehearsal")
    show.on(at + 40 * SECOND, air, "covered")
    show.oddity(at, f"rehearsal on air: {air} to {protect} and back")
    show.carry_on(at + 60 * SECOND)


def precaution_stated(show: Show) -> None:
    """Protect is taken in good time, with the reason written down, and later the programme goes back."""
    at, air, protect = _middle(show), show.reel.air, show.reel.protect
    show.switch(at, protect, "precaution", "precaution")
    show.on(at, protect, "covered")
    show.switch(at + 240 * SECOND, air, "return", "return")
    show.on(at + 240 * SECOND, air, "covered")
    recovery = show.recovery(at, air)
    show.ticket(recovery, air, at, "precaution")
    show.oddity(at, f"precaution, stated: {air} to {protect}")
    show.carry_on(at + 300 * SECOND)


def precaution_by_alarm(show: Show) -> None:
    """Protect is taken while an alarm stands on the air machine; nobody wrote the reason."""
    at, air, protect = _middle(show), show.reel.air, show.reel.protect
    waited = show.between(15, 90)
    show.log(air, at - waited, "alarm", detail="guide pressure")
    show.switch(at, protect, "precaution")
    show.on(at, protect, "covered")
    show.log(air, at + 120 * SECOND, "clear", detail="guide pressure")
    recovery = show.recovery(at, air)
    recovery.to_take = recovery.to_cover = (waited, True)
    show.oddity(at, f"precaution by an alarm on {air} {waited / 1000:.3f} s before, no reason written")
    show.carry_on(at + 180 * SECOND)


def unexplained(show: Show) -> None:
    """Protect is taken and nobody wrote why; nothing was wrong that any log shows."""
    at, air, protect = _middle(show), show.reel.air, show.reel.protect
    show.switch(at, protect, "unexplained")
    show.on(at, protect, "covered")
    show.recovery(at, air)
    show.oddity(at, f"{air} to {protect} without a reason, nothing in any log")
    show.carry_on(at + 60 * SECOND)


def unexplained_old_alarm(show: Show) -> None:
    """As before, with an alarm on the air machine that is older than ten minutes and so no longer open."""
    at, air, protect = show.slot.start + show.between(800, 850), show.reel.air, show.reel.protect
    show.log(air, at - 700 * SECOND, "alarm", detail="fan")
    show.switch(at, protect, "unexplained")
    show.on(at, protect, "covered")
    show.recovery(at, air)
    show.oddity(at, f"{air} to {protect} without a reason, the alarm on {air} is 700 s old")
    show.carry_on(at + 60 * SECOND)


def slate_planned(show: Show) -> None:
    """A planned interval on slate, then on with the same machine."""
    _slate(show, show.between(45, 90), "planned", "a planned interval on slate")


def slate_by_mistake(show: Show) -> None:
    """Slate is taken by mistake and the programme taken back."""
    _slate(show, 3240, "", "slate taken by mistake for 3.24 s")


def rescued(show: Show) -> None:
    """Another source than this room is put on air for a fault that no machine's log shows."""
    at, length, air = _middle(show), show.between(50, 140), show.reel.air
    show.take(at, "other", "fault")
    show.off(at)
    show.beside("rescued", at, at + length, air)
    show.stage.truth.rescues.append(Rescue(show.slot.channel, at, air))
    show.take(at + length, air, "planned")
    show.on(at + length, air, "covered")
    show.oddity(at, f"wrong picture on {air}, another source is on air for {length / 1000:.3f} s")
    show.carry_on(at + 180 * SECOND)


def other_planned(show: Show) -> None:
    """A planned insert from another source."""
    at, air = _middle(show), show.reel.air
    show.take(at, "other", "planned")
    show.off(at)
    show.take(at + 120 * SECOND, air, "planned")
    show.on(at + 120 * SECOND, air, "covered")
    show.oddity(at, "planned insert of 120 s from another source")
    show.carry_on(at + 180 * SECOND)


def wrong_machine(show: Show) -> None:
    """The machine of another channel's transmission is taken by mistake."""
    at, air, stranger = _middle(show), show.reel.air, show.slot.spare
    show.take(at, stranger)
    show.on(at, stranger, "exposed", "none booked", elsewhere=True)
    show.take(at + 6320, air)
    show.on(at + 6320, air, "covered")
    show.oddity(at, f"{stranger}, on air on another channel, is taken by mistake for 6.32 s")
    show.carry_on(at + 60 * SECOND)


def changed_by_way_of_slate(show: Show) -> None:
    """The reel change is two takes at the same instant, by way of slate, and the lines are in the wrong order."""
    first, second = show.slot.reels
    show.run_up(second, 80)
    book, channel = show.stage.book, show.slot.channel
    book.take(channel, second.start, "standby", second.air, reason="planned")
    show.switch(second.start, second.air, "planned", "planned", slate=True)
    show.stage.selected[channel] = second.air
    show.on(second.start, second.air, "covered")
    for machine in (first.air, first.protect):
        show.halt(machine, second.start + show.between(5, 11))
    show.oddity(
        second.start, f"{first.air} to {second.air} by way of slate, both takes at one instant, second line first"
    )
    show.close()


def protect_lost(show: Show) -> None:
    """Protect fails and comes back while the air machine plays on: nobody on air sees it."""
    at, air, protect = _middle(show), show.reel.air, show.reel.protect
    length = show.between(30, 400)
    show.proofs(show.slot.start, at)
    show.log(protect, at, "picture_lost")
    show.on(at, air, "exposed", "not good")
    show.log(protect, at + length, "picture_back")
    show.on(at + length, air, "covered")
    written = show.ticket(None, protect, at, "protect")
    show.oddity(
        at, f"protect {protect} has no picture for {length / 1000:.3f} s; ticket {written.ticket} is of no event"
    )
    show.carry_on(at + length + 60 * SECOND)


def protect_drifts(show: Show) -> None:
    """A reading shows protect out of step; it is brought back by hand."""
    at, air, protect = _middle(show), show.reel.air, show.reel.protect
    show.offset(protect, at, 41)
    show.on(at, air, "exposed", "out of step")
    back = at + show.between(20, 90)
    show.offset(protect, back, -40)
    show.on(back, air, "covered")
    show.oddity(at, f"protect {protect} reads 0.041 s, then -0.040 s: out of step, and just in step")
    show.carry_on(back + 60 * SECOND)


def never_proved(show: Show) -> None:
    """Protect runs beside air and nobody reads the offset."""
    start, air, protect = show.slot.start, show.reel.air, show.reel.protect
    show.make_bookings()
    for machine in (air, protect):
        show.ready(machine, start - READY_BEFORE)
        show.roll(machine, start - 88 * SECOND)
    show.take(start, air)
    show.on(start, air, "unproved")
    show.oddity(start, f"nobody reads the offset of {protect}")
    show.close()


def _slate(show: Show, length: int, reason: str, what: str) -> None:
    at, air = _middle(show), show.reel.air
    show.take(at, "standby", reason)
    show.on(at, None, "lost")
    show.take(at + length, air, reason)
    show.on(at + length, air, "covered")
    show.interrupted(at, at + length, None, demand=False)
    show.recovery(at, None).to_air = (length, True)
    show.oddity(at, what)
    show.carry_on(at + 120 * SECOND)


def _middle(show: Show) -> int:
    if show.slot.moment:
        return show.slot.moment
    length = (show.reel.end - show.reel.start) // SECOND
    return show.slot.start + show.between(200, length * 0.45)
