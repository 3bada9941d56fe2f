"""One transmission from its bookings to its last stop, and what is counted of it: the frame every scene plays in."""

from __future__ import annotations

from dataclasses import dataclass, field

from sample_logs.room.catalogue import FAULTY, episodes, reel_name
from sample_logs.room.hands import Hands
from sample_logs.room.instants import MINUTE, SECOND
from sample_logs.room.logbook import Booking, Ticket
from sample_logs.room.plant import ALIVE
from sample_logs.room.schedule import AS_OF, Reel
from sample_logs.room.truth import Interruption, Oddity, Recovery
from sample_logs.room.words import ticket_words

READY_BEFORE = 1500 * SECOND


@dataclass
class Show(Hands):
    """One transmission in progress."""

    silences: list[tuple[str, int, int]] = field(default_factory=list)  # machine, last line before, first after
    boxes: dict[str, str] = field(default_factory=dict)  # the reel on each machine

    # From booking to standby

    def make_bookings(self) -> None:
        """Write the bookings of this transmission."""
        slot = self.slot
        episode = slot.programme or self.random.choice(sorted(set(episodes()) - {FAULTY}))
        programme, show = episodes()[episode]
        for part, reel in enumerate(slot.reels, start=1):
            end = max(reel.end, slot.booked_end) if reel is slot.reels[-1] else reel.end
            for copy, machine, role in (("A", reel.air, "air"), ("B", reel.protect, "protect")):
                if machine:
                    self.boxes[machine] = reel_name(episode, part, copy)
                    what = (slot.transmission, slot.channel, programme, show, self.boxes[machine])
                    self.stage.book.book(Booking("", *what, machine, role, reel.start, end))

    def run_up(self, reel: Reel, lead_s: float = 90) -> int:
        """Ready, roll and prove a reel's machines before its start; the instant of the roll."""
        for machine in (reel.air, reel.protect):
            if machine:
                self.ready(machine, reel.start - READY_BEFORE)
        at = reel.start - round(lead_s * SECOND) + self.between(-8, 8)
        self.roll(reel.air, at)
        if reel.protect:
            self.roll(reel.protect, at)
            self.prove(reel.protect, at + self.between(9, 14))
        return at

    def open(self, state: str = "covered", why: str = "") -> None:
        """Bookings, run-up and the first take: on air from the window's start."""
        slot, air = self.slot, self.reel.air
        self.make_bookings()
        if slot.opening == "continue":
            self.rolling = dict.fromkeys((air, self.reel.protect), slot.start)
        else:
            self.run_up(self.reel)
        if slot.opening == "late change":
            self.on(slot.start, self.feed, "exposed", "none booked", elsewhere=True)
            self.take(slot.start + 2360, air)
            self.on(slot.start + 2360, air, state, why)
            return
        if slot.opening in {"take", "change"}:
            self.take(slot.start, air, self.random.choice(("", "planned")))
        self.stage.selected[slot.channel] = air
        self.on(slot.start, air, state, why)

    def carry_on(self, since: int, state: str = "covered", why: str = "") -> None:
        """Play on in step from `since` to the end, over the reel change if there is one, and close."""
        self.proofs(since, self.reel.end - 60 * SECOND)
        if len(self.slot.reels) > 1:
            reel = self.slot.reels[1]
            self.run_up(reel, 80)
            self.change_over(reel.start - self.random.choice((0, 0, self.between(0.2, 1.4))), state, why)
            self.proofs(reel.start, reel.end - 60 * SECOND, reel)
        self.close()

    def change_over(self, at: int, state: str = "covered", why: str = "") -> None:
        """The planned switch to the second reel."""
        reel = self.slot.reels[1]
        self.switch(at, reel.air, "planned", "planned")
        self.on(at, reel.air, state, why)
        for machine in [name for name in self.rolling if name not in {reel.air, reel.protect}]:
            self.halt(machine, at + self.between(5, 11))

    def close(self, at: int | None = None) -> None:
        """End of air time and of the run, in the way the slot says; `at` where air time ends before the booking."""
        slot = self.slot
        if slot.closing == "early change":
            early = slot.end - 480
            self.take(early, slot.next_air)
            self.on(early, slot.next_air, "exposed", "none booked", elsewhere=True)
        self.off(slot.end if at is None else at)
        if slot.closing == "standby" and self.feed != "standby":
            self.take(slot.end, "standby", "planned")
        if slot.closing != "continue":
            self.clear_away()

    def clear_away(self, after: int = 0) -> None:
        """Stop what still rolls, some seconds after the end."""
        for machine in list(self.rolling):
            self.halt(machine, self.slot.end + after + self.between(4, 9))
        self.keep_alive()

    def keep_alive(self) -> None:
        """The lines of the machines that log that they are logging, every minute but for the silences."""
        for machine in (name for name in ALIVE if name in self.first_line):
            quiet = [(start, end) for name, start, end in self.silences if name == machine]
            at = self.first_line[machine] - 20 * SECOND
            for end in (*(start for start, _ in quiet), self.slot.end + 100 * SECOND):
                while at < end:
                    self.log(machine, at, "alive")
                    at += 60 * SECOND
                if quiet:
                    self.log(machine, end, "alive")
                    at = quiet.pop(0)[1] + 30 * SECOND

    # What is counted

    def interrupted(self, start: int, end: int, machine: str | None, **flags: bool | int) -> None:
        """State an interruption; all of it lost unless `lost` says otherwise."""
        lost = int(flags.pop("lost", end - start))
        named = {name: bool(flag) for name, flag in flags.items()}
        self.stage.truth.interruptions.append(Interruption(self.slot.channel, start, end, lost, machine, **named))

    def recovery(self, at: int, machine: str | None) -> Recovery:
        """State a recovery event and return it, to be filled in with its times."""
        made = Recovery(self.slot.channel, at, machine)
        self.stage.truth.recoveries.append(made)
        return made

    def oddity(self, at: int, what: str, scene: str = "") -> None:
        """Say for the README what happened here."""
        where = f"{self.slot.channel} {self.slot.transmission}"
        self.stage.truth.oddities.append(Oddity(scene or self.slot.scene, at, where, what))

    def ticket(self, recovery: Recovery | None, machine: str, after: int, kind: str, *, left: str = "") -> Ticket:
        """Write a ticket some minutes after an instant and tie it to its recovery, if it has one.

        `left`: "unrestored" closes it without a restored time, "open" leaves it open. What would lie after the last
        line of the logs has not been written yet, so such tickets are open too.
        """
        opened = (after + self.between(180, 2400)) // MINUTE * MINUTE
        restored = opened + self.random.randint(20, 540) * MINUTE if not left else None
        closed = (restored or opened) + self.random.randint(10, 1440) * MINUTE if left != "open" else None
        restored = restored if restored is None or restored <= AS_OF else None
        closed = closed if closed is None or closed <= AS_OF else None
        if recovery is not None:
            end = restored or closed or AS_OF
            recovery.to_service = (end - opened, restored is not None)
        reel = self.boxes[machine] if kind == "picture" else ""
        if self.random.random() < 0.2:
            reel = reel.replace("0", "O")  # as people type
        words = ticket_words(self.random, kind)
        made = self.stage.book.ticket(machine, opened, restored, closed, reel=reel, **words)
        if recovery is not None:
            recovery.ticket = made.ticket
        if left or restored is None:
            what = "is still open" if closed is None else "was closed without a restored time"
            self.oddity(opened, f"ticket {made.ticket} {what}", "ticket without an end")
        return made
