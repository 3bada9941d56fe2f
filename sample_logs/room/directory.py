"""Which scenes there are, how many of each the three months hold, and what each needs of its transmission."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sample_logs.room import scenes_edges, scenes_faults, scenes_hands, scenes_logs, scenes_saves
from sample_logs.room.schedule import Slot
from sample_logs.room.show import Show


@dataclass(frozen=True)
class Scene:
    """A scene and how it is cast.

    `opens`: it makes its own beginning. `apart`: it makes events or tickets, so its machines have no other such scene
    within a day. `two_reels` True, False or either. `spare`: it needs a machine of the other pair, "free" or "busy".
    """

    play: Callable[[Show], None]
    count: int = 0
    state: str = "covered"
    why: str = ""
    opens: bool = False
    apart: bool = True
    two_reels: bool | None = False
    pairs: str = "P1 P2 P3 P4"
    spare: str = ""
    alone: bool = False
    at_least_min: int = 30


LOCKING = "P1 P2 P4"
ALIVE = "P4"
f, s, h, e, g = scenes_faults, scenes_saves, scenes_hands, scenes_edges, scenes_logs
# The choosy scenes come first, so that the easy ones take what is left.
SCENES: dict[str, Scene] = {
    "wrong_machine": Scene(h.wrong_machine, 2, spare="busy"),
    "both_dip_third": Scene(f.both_dip_third, 2, pairs=LOCKING, spare="free"),
    "saved_third_machine": Scene(s.saved_third_machine, 5, spare="free"),
    "silent_air": Scene(g.silent_air, 2, pairs=ALIVE),
    "silent_protect": Scene(g.silent_protect, 2, pairs=ALIVE),
    "both_dip_healed": Scene(f.both_dip_healed, 2, pairs=LOCKING),
    "protect_not_locked": Scene(f.protect_not_locked, 3, pairs=LOCKING),
    "protect_out_of_step": Scene(f.protect_out_of_step, 3),
    "recorded_fault": Scene(f.recorded_fault, 3),
    "alone_and_failing": Scene(f.alone_and_failing, 2, "exposed", "none booked", alone=True),
    "changed_by_way_of_slate": Scene(h.changed_by_way_of_slate, 1, two_reels=True),
    "healed_merged": Scene(f.healed_merged, 2),
    "healed_apart": Scene(f.healed_apart, 1),
    "late_roll": Scene(e.late_roll, 2, opens=True, pairs=LOCKING),
    "late_take": Scene(e.late_take, 2, opens=True),
    "rehearsal_before": Scene(e.rehearsal_before, 2, opens=True),
    "protect_late": Scene(e.protect_late, 3, opens=True, pairs=LOCKING),
    "overrun": Scene(e.overrun, 4),
    "stops_early": Scene(e.stops_early, 2),
    "stops_just_in_time": Scene(e.stops_just_in_time, 1),
    "slate_early": Scene(e.slate_early, 1),
    "runs_out": Scene(e.runs_out, 1),
    "rehearsal_inside": Scene(h.rehearsal_inside, 2),
    "precaution_stated": Scene(h.precaution_stated, 4),
    "precaution_by_alarm": Scene(h.precaution_by_alarm, 3),
    "unexplained": Scene(h.unexplained, 2),
    "unexplained_old_alarm": Scene(h.unexplained_old_alarm, 1),
    "slate_planned": Scene(h.slate_planned, 2),
    "slate_by_mistake": Scene(h.slate_by_mistake, 1),
    "rescued": Scene(h.rescued, 2),
    "other_planned": Scene(h.other_planned, 1),
    "protect_drifts": Scene(h.protect_drifts, 4),
    "protect_lost": Scene(h.protect_lost, 8),
    "saved_without_cover_after": Scene(s.saved_without_cover_after, 8),
    "saved_servo": Scene(s.saved_servo, 8, two_reels=None),
    "saved_stop": Scene(s.saved_stop, 6, two_reels=None),
    "saved_sound": Scene(s.saved_sound, 6, two_reels=None),
    "saved_picture": Scene(s.saved_picture, 14, two_reels=None),
    "healed": Scene(f.healed, 14, two_reels=None),
    "unprotected": Scene(h.unprotected, 24, "exposed", "none booked", apart=False, alone=True),
    "never_proved": Scene(h.never_proved, 3, "unproved", apart=False, opens=True),
    # Cast by their dates, not drawn.
    "log_missing": Scene(g.log_missing),
    "over_the_month": Scene(e.over_the_month),
    "cut_by_the_last_line": Scene(e.cut_by_the_last_line),
    "over_the_clock_change": Scene(s.over_the_clock_change),
    "joined_by_one_reel": Scene(h.plain),
    "plain": Scene(h.plain),
}


def suits(scene: Scene, slot: Slot) -> bool:
    """Whether a transmission can play a scene, its spare machine aside."""
    length_min = (slot.reels[0].end - slot.start) // 60_000
    return (
        slot.scene == "plain"
        and slot.channel != "Night"
        and slot.closing == "standby"
        and slot.opening in {"take", "quiet"}
        and (scene.two_reels is None or scene.two_reels == (len(slot.reels) > 1))
        and (length_min >= scene.at_least_min or len(slot.reels) > 1)
    )
