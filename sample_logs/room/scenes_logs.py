"""Scenes in which the programme is as it should be and the logs are not."""

from __future__ import annotations

from sample_logs.room.instants import SECOND
from sample_logs.room.plant import LOST_LOG
from sample_logs.room.schedule import Reel
from sample_logs.room.show import Show

SILENCE = 180 * SECOND


def log_missing(show: Show) -> None:
    """The log of one machine was not saved that day: on air nothing is known, as protect nothing is proved."""
    state = _believed(show.reel)
    show.on(show.slot.start, show.reel.air, state)
    later = _believed(show.slot.reels[-1])
    where = "air" if LOST_LOG in {reel.air for reel in show.slot.reels} else "protect"
    show.oddity(show.slot.start, f"{LOST_LOG}, booked {where}, has no log")
    show.carry_on(show.slot.start, later)


def silent_air(show: Show) -> None:
    """The air machine's log falls silent for a while."""
    start, end = _silence(show, show.reel.air)
    show.on(start + SILENCE, show.reel.air, "unknown")
    show.on(end, show.reel.air, "covered")
    show.carry_on(end + 60 * SECOND)


def silent_protect(show: Show) -> None:
    """The protect machine's log falls silent for a while."""
    start, end = _silence(show, show.reel.protect)
    show.on(start + SILENCE, show.reel.air, "unproved")
    show.on(end, show.reel.air, "covered")
    show.carry_on(end + 60 * SECOND)


def _silence(show: Show, machine: str) -> tuple[int, int]:
    """The last line before the silence, and the first after it, which is a reading of the offset."""
    start = show.slot.start + show.between(240, 400)
    end = start + show.between(400, 700)
    show.silences.append((machine, start, end))
    show.offset(machine, end, show.random.randint(-30, 30))
    show.oddity(start, f"the log of {machine} is silent for {(end - start) / 1000:.3f} s")
    return start, end


def _believed(reel: Reel) -> str:
    if reel.air == LOST_LOG:
        return "unknown"
    return "unproved" if reel.protect == LOST_LOG else "covered"
