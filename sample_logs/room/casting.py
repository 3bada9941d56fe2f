"""Says which transmission plays which scene: some by their dates, the others drawn, well apart from each other."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from random import Random

from sample_logs.room.directory import SCENES, Scene, suits
from sample_logs.room.instants import HOUR, MINUTE, SECOND, local
from sample_logs.room.logbook import Hole
from sample_logs.room.plant import GROUPS, LOST_LOG, PAIR_OF, PAIRS, other_pair
from sample_logs.room.schedule import AS_OF, CLOCK_CHANGE, MONTH_CROSSED, Slot

APART = 27 * HOUR  # a ticket may be written a day after its event, so events of a pair are further apart
HOLE = Hole(LOST_LOG, local(date(2031, 3, 10), 6 * 60), local(date(2031, 3, 14), 6 * 60))
SPRING = local(date(2031, 3, 30), 60) + HOUR  # two in the morning, which is three
JOINS = ("early change", "late change", "overlap", "continue", "early change", "late change", "overlap", "continue")


@dataclass
class Casting:
    """The slots, those that may not be touched any more, and when each pair has its events."""

    slots: list[Slot]
    random: Random
    reserved: set[int] = field(default_factory=set)
    events: dict[str, list[int]] = field(default_factory=lambda: {pair: [] for pair in PAIRS})

    def settle(self, slot: Slot, name: str, *, apart: bool = True) -> None:
        """Give a scene to a slot."""
        slot.scene = name
        self.reserved.add(slot.number)
        for pair in {PAIR_OF[machine] for machine in slot.machines} if apart else ():
            self.events[pair].append(slot.start)

    def is_apart(self, slot: Slot) -> bool:
        """Whether no event of the slot's machines is within a day."""
        pairs = {PAIR_OF[machine] for machine in slot.machines}
        return all(abs(slot.start - at) > APART for pair in pairs for at in self.events[pair])


def cast(slots: list[Slot], random: Random) -> Casting:
    """Give every slot its scene; the slots are changed in place."""
    casting = Casting(slots, random)
    _cast_by_date(casting)
    _cast_joins(casting)
    for name, scene in SCENES.items():
        for _ in range(scene.count):
            _cast_one(casting, name, scene)
    return casting


def _cast_by_date(casting: Casting) -> None:
    for slot in casting.slots:
        if slot.start > AS_OF:
            casting.settle(slot, "not_yet", apart=False)
        elif slot.end > AS_OF:
            casting.settle(slot, "cut_by_the_last_line")
        elif slot.channel == "Night" and slot.day in MONTH_CROSSED:
            casting.settle(slot, "over_the_month")
        elif slot.channel == "Night" and slot.day == CLOCK_CHANGE:
            slot.moment = SPRING - 600
            casting.settle(slot, "over_the_clock_change")
        elif LOST_LOG in slot.machines and HOLE.start < slot.start < HOLE.end:
            casting.settle(slot, "log_missing", apart=False)


def _cast_joins(casting: Casting) -> None:
    """Vary how one transmission follows another without a gap."""
    joins = [
        (before, after)
        for before in casting.slots
        for after in casting.slots
        if after.start == before.end and after.channel == before.channel and after.opening == "change"
    ]
    free = [join for join in joins if not {slot.number for slot in join} & casting.reserved]
    casting.random.shuffle(free)
    for how in JOINS:
        before, after = free.pop()
        if how == "continue":
            while PAIR_OF[before.reels[0].air] == "P4":
                before, after = free.pop()
            first = before.reels[0]
            after.reels = (replace(after.reels[0], air=first.air, protect=first.protect),)
            before.closing = after.opening = "continue"
        elif how == "overlap":
            before.booked_end = before.end + 90 * SECOND
        elif how == "early change":
            before.closing, after.opening = how, "changed before"
        else:
            after.opening = how
        for slot in (before, after):
            casting.reserved.add(slot.number)
        after.join = how


def _cast_one(casting: Casting, name: str, scene: Scene) -> None:
    candidates = [slot for slot in casting.slots if slot.number not in casting.reserved and suits(scene, slot)]
    casting.random.shuffle(candidates)
    for slot in candidates:
        if PAIR_OF[slot.reels[0].air] not in scene.pairs or (scene.apart and not casting.is_apart(slot)):
            continue
        if scene.spare == "free" and not _find_free(casting, slot):
            continue
        if scene.spare == "busy" and not _find_busy(casting, slot):
            continue
        if scene.alone:
            slot.reels = (replace(slot.reels[0], protect=""),)
        if name == "recorded_fault":
            slot.programme = "K0907"
        casting.settle(slot, name, apart=scene.apart)
        return
    raise LookupError(f"no transmission left for {name}")


def _find_free(casting: Casting, slot: Slot) -> bool:
    """Find a machine of the other pair that nobody wants for an hour around."""
    start, end = slot.start - HOUR, slot.end + HOUR
    taken = {m for other in casting.slots if other.start < end and start < other.end for m in other.machines}
    free = [m for m in PAIRS[other_pair(PAIR_OF[slot.reels[0].air])] if m not in taken and m != LOST_LOG]
    slot.spare = casting.random.choice(free) if free else ""
    return bool(free)


def _find_busy(casting: Casting, slot: Slot) -> bool:
    """Find a machine that is on air on another channel, in an ordinary transmission that then stays ordinary."""
    for other in casting.slots:
        at = max(slot.start, other.start) + 6 * MINUTE
        together = at < min(slot.start + (slot.end - slot.start) // 2, other.end - 3 * MINUTE)
        elsewhere = other.channel in GROUPS and other.channel != slot.channel
        if elsewhere and together and other.number not in casting.reserved and suits(SCENES["plain"], other):
            casting.reserved.add(other.number)
            slot.spare, slot.moment = other.reels[0].air, at + 271
            return True
    return False
