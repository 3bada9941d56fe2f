"""Scenes in which no programme is lost: cover, what breaks it, hand-overs, logs that were never saved."""

from __future__ import annotations

from pipeline.simulate.acting import (
    AWAY_S,
    OUT_OF_STEP,
    READY_S,
    begin,
    cue,
    finish,
    lasting,
    moment,
    one_of,
    prove,
    roll,
    stop,
)
from pipeline.simulate.draws import Draw, Ints
from pipeline.simulate.parameters import SECOND
from pipeline.simulate.script import NOBODY, STANDBY, Script, Shows

GAP_BEFORE_S, GAP_AFTER_S = 720, 240  # from longer than lead_s before air, so that nothing is known in the window


def play_covered(shows: Shows, script: Script, draw: Draw) -> None:
    """Covered from end to end."""
    begin(shows, script, draw)
    finish(shows, script, shows.air)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, shows.end))


def play_alone(shows: Shows, script: Script, draw: Draw) -> None:
    """No protect booked: exposed from end to end."""
    roll(shows, script, draw, shows.air)
    cue(shows, script)
    script.take(shows, shows.end, (shows.air, STANDBY), "planned")
    stop(shows, script, shows.air)
    script.state(shows, "exposed_none_booked", (shows.air, NOBODY), (shows.start, shows.end))


def play_early_end(shows: Shows, script: Script, draw: Draw) -> None:
    """The reel runs out in the last seconds: the window ends early and nothing is lost."""
    begin(shows, script, draw)
    end = shows.end - lasting(shows, draw, 2, 14)
    script.log(shows.air, end, "stop")
    stop(shows, script, shows.protect)
    script.take(shows, shows.end, (shows.air, STANDBY), "planned")
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, end))


def play_overrun(shows: Shows, script: Script, draw: Draw) -> None:
    """The programme runs on past its window, which is no air time."""
    begin(shows, script, draw)
    end = shows.end + lasting(shows, draw, 5, 90)
    script.take(shows, end, (shows.air, STANDBY), "planned")
    for machine in (shows.air, shows.protect):
        script.log(machine, end + AWAY_S * SECOND, "stop")
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, shows.end))
    script.state(shows, "overrun", (shows.air, NOBODY), (shows.end, end))


def play_protect_unlocked(shows: Shows, script: Script, draw: Draw) -> None:
    """Protect falls out of lock at u, locks again at v, is proved again at w."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    v = u + lasting(shows, draw, 5, 300)
    w = v + lasting(shows, draw, 5, 60)
    script.log(shows.protect, u, "unlock")
    script.log(shows.protect, v, "lock")
    prove(shows, script, draw, w)
    finish(shows, script, shows.air)
    script.count(shows, "cover_losses", u, shows.protect)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "exposed_not_good", (shows.air, NOBODY), (u, v))
    script.state(shows, "unproved", (shows.air, NOBODY), (v, w))
    script.state(shows, "covered", (shows.air, shows.protect), (w, shows.end))


def play_out_of_step(shows: Shows, script: Script, draw: Draw) -> None:
    """The pair is read half a second apart at u and in step again at v."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    v = u + lasting(shows, draw, 5, 300)
    script.log(shows.protect, u, "offset", value=OUT_OF_STEP)
    prove(shows, script, draw, v)
    finish(shows, script, shows.air)
    script.count(shows, "cover_losses", u, shows.protect)
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, u))
    script.state(shows, "exposed_out_of_step", (shows.air, NOBODY), (u, v))
    script.state(shows, "covered", (shows.air, shows.protect), (v, shows.end))


def play_late_proof(shows: Shows, script: Script, draw: Draw) -> None:
    """Nobody reads the offset before u."""
    roll(shows, script, draw, shows.air)
    roll(shows, script, draw, shows.protect)
    cue(shows, script)
    u = moment(shows, draw, 0.1, 0.4)
    prove(shows, script, draw, u)
    finish(shows, script, shows.air)
    script.state(shows, "unproved", (shows.air, NOBODY), (shows.start, u))
    script.state(shows, "covered", (shows.air, shows.protect), (u, shows.end))


def play_precaution(shows: Shows, script: Script, draw: Draw) -> None:
    """An alarm at u, protect taken before anything is lost."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    take = _take_on_alarm(shows, script, draw, u)
    script.log(shows.air, take + lasting(shows, draw, 60, 300), "clear", detail="vacuum low")
    finish(shows, script, shows.protect)
    _state_hand_over(shows, script, take, shows.end)


def play_return(shows: Shows, script: Script, draw: Draw) -> None:
    """A precaution, and later back to the air machine."""
    begin(shows, script, draw)
    u = moment(shows, draw, 0.1, 0.4)
    take = _take_on_alarm(shows, script, draw, u)
    script.log(shows.air, take + lasting(shows, draw, 30, 100), "clear", detail="vacuum low")
    back = moment(shows, draw, 0.6, 0.9)
    script.take(shows, back, (shows.protect, shows.air), one_of(shows, draw, "return", ""))
    finish(shows, script, shows.air)
    script.count(shows, "return", back, shows.protect)
    _state_hand_over(shows, script, take, back)
    script.state(shows, "covered", (shows.air, shows.protect), (back, shows.end))


def play_planned(shows: Shows, script: Script, draw: Draw) -> None:
    """Handed over to the other machine as planned, or in a rehearsal."""
    _play_hand_over(shows, script, draw, "planned", one_of(shows, draw, "planned", "rehearsal"))


def play_unexplained(shows: Shows, script: Script, draw: Draw) -> None:
    """Handed over with no word why."""
    _play_hand_over(shows, script, draw, "unexplained", "")


def play_air_unheard(shows: Shows, script: Script, draw: Draw) -> None:
    """The air machine's log was never saved: its state is not known."""
    _start_unheard(shows, script, shows.air)
    roll(shows, script, draw, shows.protect)
    cue(shows, script)
    script.take(shows, shows.end, (shows.air, STANDBY), "planned")
    stop(shows, script, shows.protect)
    script.state(shows, "unknown", (shows.air, NOBODY), (shows.start, shows.end))


def play_protect_unheard(shows: Shows, script: Script, draw: Draw) -> None:
    """The protect machine's log was never saved: nothing proves that it could have taken over."""
    _start_unheard(shows, script, shows.protect)
    roll(shows, script, draw, shows.air)
    cue(shows, script)
    script.take(shows, shows.end, (shows.air, STANDBY), "planned")
    stop(shows, script, shows.air)
    script.state(shows, "unproved", (shows.air, NOBODY), (shows.start, shows.end))


def _start_unheard(shows: Shows, script: Script, machine: Ints) -> None:
    script.start(shows, shows.start - READY_S * SECOND, machine)
    script.hide(machine, shows.start - GAP_BEFORE_S * SECOND, shows.end + GAP_AFTER_S * SECOND)


def _play_hand_over(shows: Shows, script: Script, draw: Draw, kind: str, reason: object) -> None:
    begin(shows, script, draw)
    take = moment(shows, draw, 0.1, 0.8)
    script.take(shows, take, (shows.air, shows.protect), reason)
    finish(shows, script, shows.protect)
    script.count(shows, kind, take, shows.air)
    _state_hand_over(shows, script, take, shows.end)


def _take_on_alarm(shows: Shows, script: Script, draw: Draw, u: Ints) -> Ints:
    take = u + lasting(shows, draw, 2, 60)
    script.log(shows.air, u, "alarm", detail="vacuum low")
    script.take(shows, take, (shows.air, shows.protect), one_of(shows, draw, "precaution", ""))
    script.count(shows, "precaution", take, shows.air)
    # The switch begins at the take, its onset is the alarm; cover never ended, so it is there again at the take.
    script.took(shows, "to_take to_cover", take, shows.air, since=u, until=take)
    return take


def _state_hand_over(shows: Shows, script: Script, take: Ints, end: Ints) -> None:
    script.state(shows, "covered", (shows.air, shows.protect), (shows.start, take))
    script.state(shows, "covered", (shows.protect, shows.air), (take, end))
