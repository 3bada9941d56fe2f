"""Scenes in which the air machine fails and protect saves the programme, with all that can follow."""

from __future__ import annotations

from sample_logs.room.instants import SECOND
from sample_logs.room.plant import NEVER_LOCKS
from sample_logs.room.show import Show
from sample_logs.room.truth import Recovery

LOSE = {"picture": "picture_lost", "sound": "sound_lost", "servo": "unlock", "stop": "stop"}
ALARM = {"picture": "rf level", "sound": "sound level", "servo": "servo", "stop": "transport"}


def saved(show: Show, kind: str) -> None:
    """The air machine fails, protect is taken within seconds, the failed machine comes back into step."""
    at, recovery = _fail_and_take(show, kind)
    back = _bring_back(show, kind, at)
    recovery.to_cover = (back - at, True)
    show.carry_on(_perhaps_return(show, back))


def saved_picture(show: Show) -> None:
    saved(show, "picture")


def over_the_clock_change(show: Show) -> None:
    """The air machine fails just before the hour that does not exist, protect is taken just after it."""
    show.oddity(show.slot.moment, f"{show.reel.air} fails 0.6 s before the clock change and protect is taken after it")
    saved(show, "picture")


def saved_sound(show: Show) -> None:
    saved(show, "sound")


def saved_servo(show: Show) -> None:
    saved(show, "picture" if show.reel.air == NEVER_LOCKS else "servo")


def saved_stop(show: Show) -> None:
    saved(show, "stop")


def saved_without_cover_after(show: Show) -> None:
    """Protect saves the programme and plays alone to the end: the failed machine is taken out."""
    kind = show.random.choice(("picture", "sound"))
    at, recovery = _fail_and_take(show, kind)
    show.halt(show.reel.air, at + show.between(40, 70))
    recovery.to_cover = (show.slot.end - at, False)
    show.oddity(at, f"{show.reel.air} fails and stays out, {show.reel.protect} plays alone to the end")
    show.close()


def saved_third_machine(show: Show) -> None:
    """Protect saves the programme and a third machine is started as the new protect."""
    at, recovery = _fail_and_take(show, "picture")
    air, feed, third = show.reel.air, show.reel.protect, show.slot.spare
    show.halt(air, at + show.between(40, 70))
    show.log(third, at + show.between(75, 90), "clean")
    locked = show.roll(third, at + show.between(150, 210))
    show.on(locked, feed, "unproved")
    first = locked + show.between(12, 20)
    show.offset(third, first, show.random.randint(90, 240), feed)
    show.on(first, feed, "exposed", "out of step")
    second = first + show.between(12, 20)
    show.offset(third, second, show.random.randint(-30, 30), feed)
    show.on(second, feed, "covered")
    recovery.to_cover = (second - at, True)
    show.oddity(at, f"{air} fails, {feed} saves, {third} becomes the new protect")
    show.close()


def moment(show: Show) -> int:
    """When it happens: early enough for everything that follows before the reel's end."""
    if show.slot.moment:
        return show.slot.moment
    length = (show.reel.end - show.reel.start) // SECOND
    latest = 440 if len(show.slot.reels) > 1 else length * 0.45
    return show.slot.start + show.between(200, latest)


def _fail_and_take(show: Show, kind: str) -> tuple[int, Recovery]:
    """The air machine fails and protect, covering until then, is taken."""
    at, air, protect = moment(show), show.reel.air, show.reel.protect
    show.proofs(show.slot.start, at - 60 * SECOND)
    show.log(air, at, LOSE[kind])
    if show.random.random() < 0.4:
        show.log(air, at + show.between(0.05, 0.3), "alarm", detail=ALARM[kind])
    show.on(at, air, "lost")
    take = at + (show.between(12, 40) if show.random.random() < 0.1 else show.between(0.9, 7.5))
    show.switch(take, protect, "forced", show.random.choice(("fault", "")))
    show.on(take, protect, "exposed", "not good")
    show.interrupted(at, take, air, met=True)
    recovery = show.recovery(at, air)
    recovery.to_air = recovery.to_take = (take - at, True)
    if show.random.random() < 0.85:
        show.ticket(recovery, air, take, kind, left=show.random.choice(("", "", "", "", "", "", "unrestored", "open")))
    else:
        show.oddity(at, f"{air} fails and is saved, and nobody wrote a ticket", "event without a ticket")
    return at, recovery


def _bring_back(show: Show, kind: str, at: int) -> int:
    """The failed machine becomes the new protect; the instant from which it covers."""
    air, feed = show.reel.air, show.reel.protect
    if kind in {"picture", "sound"}:
        back = at + show.between(45, 240)
        show.log(air, back, f"{kind}_back")
        show.log(air, back + 5 * SECOND, "clear")
    elif kind == "servo":
        locked = at + show.between(45, 200)
        show.log(air, locked, "lock")
        show.on(locked, feed, "unproved")
        back = locked + show.between(10, 40)
        show.offset(air, back, show.random.randint(-30, 30))
    else:
        back = _restart(show, air, at + show.between(210, 300))
    show.on(back, feed, "covered")
    return back


def _restart(show: Show, air: str, at: int) -> int:
    """A stopped machine is started again beside the one on air and brought into step."""
    feed = show.reel.protect
    locked = show.roll(air, at)
    show.on(locked, feed, "unproved")
    first = locked + show.between(8, 14)
    show.offset(air, first, show.random.randint(60, 250))
    show.on(first, feed, "exposed", "out of step")
    second = first + show.between(8, 16)
    show.offset(air, second, show.random.randint(-30, 30))
    return second


def _perhaps_return(show: Show, back: int) -> int:
    """In half of the cases the programme goes back to the machine booked for air; the instant after."""
    if show.random.random() < 0.5:
        return back + 60 * SECOND
    at = back + show.between(60, 120)
    show.switch(at, show.reel.air, "return", show.random.choice(("return", "")))
    show.on(at, show.reel.air, "covered")
    return at + 60 * SECOND
