"""The moves that scenes are made of: getting ready, proving the pair, taking, putting away.

In all scenes both machines are started and roll together five minutes before air, lock and are proved in step; the
channel is taken from standby to the air machine at the start and back to standby at the end.
"""

from __future__ import annotations

import numpy as np

from pipeline.simulate.draws import Draw, Ints, Words
from pipeline.simulate.parameters import SECOND
from pipeline.simulate.script import STANDBY, Script, Shows

READY_S, PROVED_S, AWAY_S = 300, 280, 5  # before the start, before the start, after the end
# The tolerance is one frame: 0.04 s at 25 frames a second.
IN_STEP, OUT_OF_STEP = tuple(f"{thousandths / 1000:.3f}" for thousandths in range(-20, 21)), "0.480"
FAULTS = (("picture_lost", "picture_back"), ("sound_lost", "sound_back"))


def moment(shows: Shows, draw: Draw, low: float, high: float) -> Ints:
    """Instants inside the windows, at a share of their length; whole even microseconds."""
    share = draw.between(shows.number, low, high)
    return shows.start + 2 * np.floor((shows.end - shows.start) * share / 2).astype(np.int64)


def lasting(shows: Shows, draw: Draw, low_s: float, high_s: float) -> Ints:
    """Durations between two numbers of seconds; whole even microseconds."""
    return 2 * draw.whole(shows.number, round(low_s * SECOND / 2), round(high_s * SECOND / 2))


def one_of(shows: Shows, draw: Draw, *words: str) -> Words:
    """One of some words for each transmission."""
    return draw.word(shows.number, words)


def roll(shows: Shows, script: Script, draw: Draw, machine: Ints) -> None:
    """Started, rolling at once, locked some seconds later."""
    at = shows.start - READY_S * SECOND
    script.start(shows, at, machine)
    script.log(machine, at, "roll")
    script.log(machine, at + lasting(shows, draw, 2, 4), "lock")


def prove(shows: Shows, script: Script, draw: Draw, at: Ints) -> None:
    """The pair read as in step; the protect machine logs it."""
    script.log(shows.protect, at, "offset", value=draw.word(shows.number, IN_STEP))


def cue(shows: Shows, script: Script) -> None:
    """The channel taken from standby to the air machine as the window begins."""
    script.take(shows, shows.start, (STANDBY, shows.air), "planned")


def begin(shows: Shows, script: Script, draw: Draw) -> None:
    """Both machines ready and proved, the air machine on air."""
    roll(shows, script, draw, shows.air)
    roll(shows, script, draw, shows.protect)
    prove(shows, script, draw, shows.start - PROVED_S * SECOND)
    cue(shows, script)


def stop(shows: Shows, script: Script, *machines: Ints) -> None:
    """Machines put away after the window."""
    for machine in machines:
        script.log(machine, shows.end + AWAY_S * SECOND, "stop")


def finish(shows: Shows, script: Script, feed: Ints) -> None:
    """Taken to standby as the window ends; both machines put away."""
    script.take(shows, shows.end, (feed, STANDBY), "planned")
    stop(shows, script, shows.air, shows.protect)


def lose(shows: Shows, script: Script, draw: Draw, within: tuple[Ints, Ints]) -> None:
    """Picture or sound lost on the air machine at one instant and back at another."""
    is_sound = draw.uniform(shows.number) < 0.5
    for (lost, back), chosen in zip(FAULTS, (~is_sound, is_sound), strict=True):
        script.log(shows.air[chosen], within[0][chosen], lost)
        script.log(shows.air[chosen], within[1][chosen], back)


def interrupt(shows: Shows, script: Script, at: Ints, *kinds: str) -> None:
    """State an interruption that begins on the air machine: a demand, of the named kinds."""
    for what in ("interruptions", "demands", *kinds):
        script.count(shows, what, at, shows.air)
