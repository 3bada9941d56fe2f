"""Plays the four weeks of the second room: the days, the scenes drawn for them, and what goes on beside them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from random import Random

from sample_logs.foreign.days import Sending, join, settle_quiet, write_days
from sample_logs.foreign.house import AS_OF, MACHINES, PAIR_OF
from sample_logs.foreign.showing import Showing, over_the_doubled_hour
from sample_logs.foreign.tickets_said import words_said
from sample_logs.room.casting import Casting
from sample_logs.room.catalogue import Label
from sample_logs.room.directory import SCENES, Scene, suits
from sample_logs.room.hands import Stage
from sample_logs.room.instants import DAY, HOUR, MINUTE, SECOND, local
from sample_logs.room.logbook import Booking, Logbook, Ticket
from sample_logs.room.plant import FAST_BY_MS, FAST_CLOCK
from sample_logs.room.schedule import Slot
from sample_logs.room.truth import Oddity, Truth

# What is cast, by pair; on P3 only what can happen on whole seconds.
CAST: dict[str, tuple[str, ...]] = {
    "P4": (
        "saved_third_machine", "silent_air", "silent_protect", "both_dip_healed", "protect_not_locked",
        "protect_out_of_step", "healed_merged", "healed_apart", "late_roll", "late_take", "protect_late", "overrun",
        "stops_early", "runs_out", "saved_picture", "saved_servo", "saved_stop", "healed", "slate_planned",
    ),
    "P3": (
        "saved_picture", "saved_sound", "saved_stop", "saved_without_cover_after", "healed", "precaution_by_alarm",
        "precaution_stated", "unexplained", "protect_drifts", "protect_lost", "rescued", "slate_by_mistake",
        "rehearsal_inside", "never_proved", "unprotected",
    ),
}  # fmt: skip
APART = 20 * HOUR  # between events of a pair; tickets are opened within the hour
FIRST_TICKET = 3100
SPARE = "VT6"  # the third machine: its log has fractions


class Papers(Logbook):
    """The books of the second room, whose tickets have numbers without a letter."""

    def ticket(self, machine: str, opened: int, restored: int | None, closed: int | None, **words: str) -> Ticket:
        """Write a ticket under the next number and return it."""
        made = replace(
            super().ticket(machine, opened, restored, closed, **words), ticket=f"{FIRST_TICKET + len(self.tickets)}"
        )
        self.tickets[-1] = made
        return made


@dataclass(frozen=True)
class Acted:
    """What was written down in four weeks, and what is true of them."""

    book: Logbook
    truth: Truth
    labels: list[Label]
    slots: list[Sending]


def act_all(seed: int) -> Acted:
    """Play everything; the same seed gives the same lines and the same truth."""
    slots = write_days(Random(seed))
    join(slots)
    settle_quiet(slots, Random(seed + 1))
    casting = _cast(slots, Random(seed + 2))
    stage = Stage(Papers(), Truth())
    for slot in slots:
        _act(Showing(stage, slot, Random(seed * 1000 + slot.number)))
    _beside(stage, casting, Random(seed + 3))
    stage.book.log("VT7", AS_OF, "clean")
    _hold_to_the_old_card(stage.book)
    return Acted(stage.book, stage.truth, _labels(slots, Random(seed + 4)), slots)


def _cast(slots: list[Sending], random: Random) -> Casting:
    """Give scenes to transmissions, those of one pair more than a day apart."""
    casting = Casting(list(slots), random)
    for slot in slots:
        if slot.scene != "plain" or slot.start > AS_OF:
            casting.settle(slot, slot.scene)
    for pair, names in CAST.items():
        for name in random.sample(names, len(names)):
            _cast_one(casting, name, SCENES[name], pair)
    return casting


def _cast_one(casting: Casting, name: str, scene: Scene, pair: str) -> None:
    """The first transmission that suits: taken in order of time, four weeks have room for all."""
    for slot in casting.slots:
        if slot.number in casting.reserved or not suits(scene, slot):
            continue
        is_series = getattr(slot, "series", None) is not None
        fits = PAIR_OF[slot.reels[0].air] == pair and not (is_series and scene.alone)
        if not fits or (scene.apart and not _is_apart(casting, slot)):
            continue
        if scene.spare and (len(slot.reels) > 1 or slot.channel != "Two"):
            continue
        slot.spare = SPARE if scene.spare else ""
        if scene.alone:
            first = slot.reels[0]
            slot.reels = (type(first)(first.start, first.end, first.air, ""),)
        casting.settle(slot, name, apart=scene.apart)
        return
    raise LookupError(f"no transmission left for {name} on {pair}")


def _is_apart(casting: Casting, slot: Slot) -> bool:
    pairs = {PAIR_OF[machine] for machine in slot.machines}
    return all(abs(slot.start - at) > APART for pair in pairs for at in casting.events[pair])


def _act(show: Showing) -> None:
    slot = show.slot
    if slot.start > AS_OF:
        show.make_bookings()
        show.oddity(slot.start, "booked after the last line of any log: no air time yet", "not yet")
        return
    if slot.opening == "late change":
        show.oddity(slot.start, "follows without a gap and is taken 2.36 s late", "late change")
    if slot.scene == "over_the_doubled_hour":
        show.open()
        over_the_doubled_hour(show)
        return
    scene = SCENES[slot.scene]
    if not scene.opens:
        show.open(scene.state, scene.why)
    scene.play(show)


def _beside(stage: Stage, casting: Casting, random: Random) -> None:
    """Maintenance with new parts and clock readings, one recording on a pair, and tickets of no event."""
    for number, machine in enumerate(MACHINES):
        for day in (date(2031, 10, 10 + number), date(2031, 10, 23 + number)):
            _maintain(stage.book, random, machine, local(day, 10 * 60))
    _record(stage.book, random, local(date(2031, 10, 14), 22 * 60))
    for machine in ("VT5", "VT8"):
        _idle_ticket(stage, casting, machine, random)


def _maintain(book: Logbook, random: Random, machine: str, starts: int) -> None:
    book.book(Booking("", "", "", "", "", "", machine, "maintenance", starts, starts + HOUR))
    at = starts + random.randint(5, 20) * MINUTE
    if random.random() < 0.5:
        book.log(machine, at, "head_fitted", detail=f"H{random.randint(300, 999)}")
    else:
        book.log(machine, at, "part_fitted", detail=random.choice(("styrpinne", "pumprem", "förstärkarkort")))
    book.log(machine, at + 20 * MINUTE, "lineup")
    ahead = FAST_BY_MS if machine == FAST_CLOCK else 0
    book.log(machine, at + 25 * MINUTE, "clock", f"{ahead / 1000:.3f}")


def _record(book: Logbook, random: Random, starts: int) -> None:
    """A recording on both machines of a pair, started by hand."""
    for machine, role in (("VT8", "record"), ("VT7", "record_protect")):
        book.book(Booking("", "", "", "inspelning", "", "", machine, role, starts, starts + 40 * MINUTE))
        at = starts + random.randint(2 * MINUTE, 3 * MINUTE)
        for after, event in ((0, "roll"), (3.4, "lock"), (20, "record_on"), (1800, "record_off"), (1802, "stop")):
            book.log(machine, at + round(after * SECOND), event)


def _idle_ticket(stage: Stage, casting: Casting, machine: str, random: Random) -> None:
    """A ticket that no event is near enough to explain, at eleven in the morning of the first such day."""
    events = casting.events[PAIR_OF[machine]]
    first = local(date(2031, 10, 10), 11 * 60)
    opened = next(
        at for at in range(first, AS_OF, DAY) if all(not (-2 * HOUR < at - event < 28 * HOUR) for event in events)
    )
    made = stage.book.ticket(machine, opened, opened + 3 * HOUR, opened + 5 * HOUR, **words_said(random, "idle"))
    what = f"ticket {made.ticket} on {machine} is of no event"
    stage.truth.oddities.append(Oddity("ticket without an event", opened, machine, what))


def _labels(slots: list[Sending], random: Random) -> list[Label]:
    """Every reel's label; both copies were recorded at one time on the two machines of a pair."""
    labels = []
    for slot in slots:
        at = local(date(2031, random.randint(5, 8), random.randint(1, 28)), random.randrange(9 * 60, 17 * 60))
        show = "" if slot.series else f"del {slot.episode % 100}"
        pair = random.choice((("VT5", "VT6"), ("VT7", "VT8")))
        for part in range(1, len(slot.reels) + 1):
            for copy, machine in zip("AB", pair, strict=True):
                reel = f"{slot.episode}-{part}{copy}"
                labels.append(Label(reel, slot.title, show, machine, random.choice(("lag 1", "lag 2")), at))
    return labels


def _hold_to_the_old_card(book: Logbook) -> None:
    """The old log card cannot write fractions, so nothing may need them; and no log runs on after the last line."""
    for row in book.events:
        if row.machine == "VT5" and row.at % SECOND:
            raise AssertionError(f"VT5 would need a fraction: {row}")
        if row.at > AS_OF + (FAST_BY_MS if row.machine == FAST_CLOCK else 0):
            raise AssertionError(f"after the last line: {row}")
