"""Scenes in which programme is lost: met by protect, healed, unmet, by way of standby or another source, to the end.

`u` is when the air machine fails, `take` when the selector is moved, `v` when the machine is good again, `w` when the
pair is proved again.
"""

from __future__ import annotations

from pipeline.simulate.acting import (
    begin,
    cue,
    finish,
    interrupt,
    lasting,
    lose,
    moment,
    one_of,
    prove,
    roll,
    stop,
)
from pipeline.simulate.draws import Draw, Ints
from pipeline.simulate.parameters import SECOND
from pipeline.simulate.script import NOBODY, OTHER, STANDBY, Script, Shows


def play_forced(shows: Shows, script: Script, draw: Draw) -> None:
    """Lost from u until protect is taken; the failed machine comes back as protect at v, still in step."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    take = u + lasting(shows, draw, 0.4, 12)
    v = take + lasting(shows, draw, 20, 240)
    lose(shows, script, draw, (u, v))
    _take_protect(shows, script, draw, u, take)
    finish(shows, script, shows.protect)
    script.took(shows, "to_cover", u, shows.air, until=v)
    script.state(shows, "exposed_not_good", (shows.protect, NOBODY), (take, v))
    script.state(shows, "covered", (shows.protect, shows.air), (v, shows.end))


def play_forced_unlock(shows: Shows, script: Script, draw: Draw) -> None:
    """The same by loss of lock, which ends the proof of step: locked again at v, proved again at w."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    take = u + lasting(shows, draw, 0.4, 12)
    v = take + lasting(shows, draw, 20, 240)
    w = v + lasting(shows, draw, 5, 60)
    script.log(shows.air, u, "unlock")
    script.log(shows.air, v, "lock")
    prove(shows, script, draw, w)
    _take_protect(shows, script, draw, u, take)
    finish(shows, script, shows.protect)
    script.took(shows, "to_cover", u, shows.air, until=w)
    script.state(shows, "exposed_not_good", (shows.protect, NOBODY), (take, v))
    script.state(shows, "unproved", (shows.protect, NOBODY), (v, w))
    script.state(shows, "covered", (shows.protect, shows.air), (w, shows.end))


def play_by_standby(shows: Shows, script: Script, draw: Draw) -> None:
    """Lost from u; standby is taken first, protect some seconds later. One switch, timed at the first take."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    take = u + lasting(shows, draw, 0.4, 6)
    on = take + lasting(shows, draw, 0.4, 20)
    v = on + lasting(shows, draw, 20, 240)
    lose(shows, script, draw, (u, v))
    script.take(shows, take, (shows.air, STANDBY), "fault")
    script.take(shows, on, (STANDBY, shows.protect), "fault")
    finish(shows, script, shows.protect)
    interrupt(shows, script, u, "demands_met")
    script.count(shows, "forced", take, shows.air)
    script.took(shows, "to_air", u, shows.air, until=on)
    script.took(shows, "to_take", u, shows.air, until=take)
    script.took(shows, "to_cover", u, shows.air, until=v)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, take))
    script.state(shows, "lost", (STANDBY, NOBODY), (take, on))
    script.state(shows, "exposed_not_good", (shows.protect, NOBODY), (on, v))
    script.state(shows, "covered", (shows.protect, shows.air), (v, shows.end))


def play_healed(shows: Shows, script: Script, draw: Draw) -> None:
    """Lost from u to v and back by itself, protect standing by."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.8)
    v = u + lasting(shows, draw, 0.2, 30)
    lose(shows, script, draw, (u, v))
    finish(shows, script, shows.air)
    interrupt(shows, script, u, "demands_healed")
    script.took(shows, "to_air to_cover", u, shows.air, until=v)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, v))
    script.state(shows, "covered", (shows.air, shows.protect), (v, shows.end))


def play_healed_alone(shows: Shows, script: Script, draw: Draw) -> None:
    """Lost from u to v and back by itself, with no protect booked."""
    roll(shows, script, draw, shows.air)
    cue(shows, script)
    u = moment(shows, draw, 0.1, 0.8)
    v = u + lasting(shows, draw, 0.2, 30)
    lose(shows, script, draw, (u, v))
    script.take(shows, shows.end, (shows.air, STANDBY), "planned")
    stop(shows, script, shows.air)
    interrupt(shows, script, u, "demands_healed", "demands_unprotected")
    script.took(shows, "to_air", u, shows.air, until=v)
    script.state(shows, "exposed_none_booked", (shows.air, NOBODY), (shows.start, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, v))
    script.state(shows, "exposed_none_booked", (shows.air, NOBODY), (v, shows.end))


def play_unmet(shows: Shows, script: Script, draw: Draw) -> None:
    """Protect falls out of lock first, then the air machine fails: nothing to take."""
    begin(shows, script, draw)
    fell = moment(shows, draw, 0.1, 0.2)
    u = fell + lasting(shows, draw, 20, 120)
    v = u + lasting(shows, draw, 0.2, 40)
    locked = v + lasting(shows, draw, 10, 100)
    w = locked + lasting(shows, draw, 5, 60)
    script.log(shows.protect, fell, "unlock")
    lose(shows, script, draw, (u, v))
    script.log(shows.protect, locked, "lock")
    prove(shows, script, draw, w)
    finish(shows, script, shows.air)
    interrupt(shows, script, u, "demands_healed")
    script.count(shows, "cover_losses", fell, shows.protect)
    script.took(shows, "to_air", u, shows.air, until=v)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, fell))
    script.state(shows, "exposed_not_good", (shows.air, NOBODY), (fell, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, v))
    script.state(shows, "exposed_not_good", (shows.air, NOBODY), (v, locked))
    script.state(shows, "unproved", (shows.air, NOBODY), (locked, w))
    script.state(shows, "covered", (shows.air, shows.protect), (w, shows.end))


def play_lost_to_the_end(shows: Shows, script: Script, draw: Draw) -> None:
    """Lost from u until the window ends, nobody takes protect: all three times are cut short there."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.5, 0.8)
    lose(shows, script, draw, (u, shows.end + 2 * SECOND))
    finish(shows, script, shows.air)
    interrupt(shows, script, u)
    script.took(shows, "to_air to_take to_cover", u, shows.air, until=shows.end, seen=False)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, shows.end))


def play_rescued(shows: Shows, script: Script, draw: Draw) -> None:
    """Lost from u; another source, not of this room, is taken, and the mended machine again at w."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    take = u + lasting(shows, draw, 0.4, 12)
    v = take + lasting(shows, draw, 20, 120)
    w = v + lasting(shows, draw, 5, 60)
    lose(shows, script, draw, (u, v))
    script.take(shows, take, (shows.air, OTHER), "fault")
    script.take(shows, w, (OTHER, shows.air), one_of(shows, draw, "return", "planned"))
    finish(shows, script, shows.air)
    interrupt(shows, script, u)
    script.took(shows, "to_air", u, shows.air, until=take)
    script.took(shows, "to_cover", u, shows.air, until=w)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, take))
    script.state(shows, "rescued", (shows.air, NOBODY), (take, w))
    script.state(shows, "covered", (shows.air, shows.protect), (w, shows.end))


def _take_protect(shows: Shows, script: Script, draw: Draw, u: Ints, take: Ints) -> None:
    """Covered until u, lost until protect is taken: a demand that was met, a forced switch, stated or not."""
    script.take(shows, take, (shows.air, shows.protect), one_of(shows, draw, "fault", ""))
    interrupt(shows, script, u, "demands_met")
    script.count(shows, "forced", take, shows.air)
    script.took(shows, "to_air to_take", u, shows.air, until=take)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "lost", (shows.air, NOBODY), (u, take))
