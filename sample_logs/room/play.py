"""Plays the three months from beginning to end: the schedule, the scenes, and what goes on beside them."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from sample_logs.room.background import fill_background
from sample_logs.room.casting import HOLE, cast
from sample_logs.room.catalogue import Label, write_labels
from sample_logs.room.directory import SCENES
from sample_logs.room.hands import Stage
from sample_logs.room.instants import stamp_utc
from sample_logs.room.logbook import Logbook
from sample_logs.room.schedule import Slot, write_schedule
from sample_logs.room.show import Show
from sample_logs.room.truth import Truth

JOINS = {
    "early change": "follows without a gap and is taken 0.48 s early, inside the one before",
    "late change": "follows without a gap and is taken 2.36 s late: the machine of the one before is on air until then",
    "overlap": "begins 90 s before the bookings of the one before end",
    "continue": "is on the same machines as the one before, with no take and no stop between",
}


@dataclass(frozen=True)
class Played:
    """What was written down in three months, and what is true of them."""

    book: Logbook
    truth: Truth
    labels: list[Label]
    scenes: list[dict[str, str]]  # which transmission played which scene


def play_all(seed: int) -> Played:
    """Play everything; the same seed gives the same lines and the same truth."""
    slots = write_schedule(Random(seed))
    casting = cast(slots, Random(seed + 1))
    stage = Stage(Logbook([HOLE]), Truth())
    for slot in slots:
        _play(stage, slot, Random(seed * 10_000 + slot.number))
    fill_background(casting, stage.book, stage.truth)
    scenes = [
        {
            "channel": slot.channel,
            "transmission": slot.transmission,
            "scene": slot.scene,
            "start_utc": stamp_utc(slot.start),
        }
        for slot in slots
    ]
    return Played(stage.book, stage.truth, write_labels(Random(seed + 2)), scenes)


def _play(stage: Stage, slot: Slot, random: Random) -> None:
    show = Show(stage, slot, random)
    if slot.scene == "not_yet":
        show.make_bookings()
        show.oddity(slot.start, "booked after the last line of any log: no air time yet")
        return
    if slot.join:
        show.oddity(slot.start, JOINS[slot.join], slot.join)
    scene = SCENES[slot.scene]
    if not scene.opens:
        show.open(scene.state, scene.why)
    scene.play(show)
