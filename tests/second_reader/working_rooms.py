"""Generated rooms in which most things go as they should, so that covered air, switches and met demands abound.

Each programme plays a short script: the pair rolls, locks and is proved in step, air is taken, things go wrong and are
answered, the programme ends. A little noise is laid over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import strategies as st

from tests.second_reader.rooms import Draft, Draw, finished, random_events, registers, settings
from tests.second_reader.sites import Room


@dataclass
class Play:
    """One channel at one moment of its script: who feeds and who protects."""

    draw: Draw
    draft: Draft
    channel: str
    feed: str
    protect: str
    third: str

    def soon(self, most: int = 6) -> int:
        """Draw a short wait in ticks, at times none."""
        return int(self.draw(st.integers(0, most)))

    def one_of(self, *words: str | None) -> str | None:
        """Draw one word."""
        word: str | None = self.draw(st.sampled_from(words))
        return word

    def ready(self, at: int, machine: str, partner: str) -> int:
        """Roll, lock and measure a machine; return the tick at which it is proved in step."""
        self.draft.log(at, machine, "roll")
        locked = at + self.soon()
        self.draft.log(locked, machine, "lock")
        proved = locked + self.soon()
        self.draft.log(proved, machine, "offset", 0.02, self.one_of(partner, partner, None))
        return proved

    def fail(self, at: int, machine: str) -> str:
        """Log a failure and return the word that cures it."""
        bad, cure = self.draw(
            st.sampled_from([
                ("unlock", "lock"), ("picture_lost", "picture_back"), ("sound_lost", "sound_back"), ("stop", "roll"),
            ])
        )  # fmt: skip
        self.draft.log(at, machine, bad)
        return str(cure)

    def cured(self, at: int, machine: str, cure: str) -> int:
        """Log the cure, and mostly the proof; return the tick of the last line."""
        self.draft.log(at, machine, cure)
        if cure == "roll":
            at += self.soon()
            self.draft.log(at, machine, "lock")
        if self.soon(3):
            at += self.soon()
            self.draft.log(at, machine, "offset", -0.02, self.one_of(None, self.feed, self.protect))
        return at

    def swap(self, at: int, reason: str | None) -> None:
        """Take the protect machine; the one left becomes the protect."""
        self.draft.take(at, self.channel, self.feed, self.protect, reason)
        self.feed, self.protect = self.protect, self.feed


def fault_taken(play: Play, at: int) -> int:
    """The feed fails, protect is taken, the failed one comes back."""
    failed, cure = play.feed, play.fail(at, play.feed)
    at += play.soon()
    play.swap(at, play.one_of(None, None, "fault"))
    return play.cured(at + 1 + play.soon(), failed, cure)


def fault_by_standby(play: Play, at: int) -> int:
    """The feed fails, slate, then protect or the same machine again."""
    failed, cure = play.feed, play.fail(at, play.feed)
    at += play.soon()
    play.draft.take(at, play.channel, play.feed, "standby", play.one_of(None, "fault"))
    back = play.cured(at + play.soon(), failed, cure)
    at = max(at, back) + play.soon()
    to = play.one_of(play.protect, play.protect, play.feed) or play.feed
    play.draft.take(at, play.channel, "standby", to, play.one_of(None, "return"))
    if to == play.protect:
        play.feed, play.protect = play.protect, play.feed
    return at


def fault_healed(play: Play, at: int) -> int:
    """The feed fails and comes back by itself."""
    cure = play.fail(at, play.feed)
    return play.cured(at + 1 + play.soon(), play.feed, cure)


def two_faults(play: Play, at: int) -> int:
    """Two short losses, close together."""
    play.draft.log(at, play.feed, "picture_lost")
    play.draft.log(at + 2, play.feed, "picture_back")
    again = at + 3 + play.soon(3)
    play.draft.log(again, play.feed, "picture_lost")
    play.draft.log(again + 2, play.feed, "picture_back")
    return again + 2


def precaution(play: Play, at: int) -> int:
    """An alarm on the feed, protect is taken, the alarm is cleared."""
    left = play.feed
    play.draft.log(at, left, "alarm", None, "servo")
    if play.soon(2) == 0:
        play.draft.log(at + play.soon(), left, "clear", None, play.one_of("servo", None, "air pressure"))
    at += play.soon(12)
    play.swap(at, play.one_of(None, None, "precaution"))
    play.draft.log(at + 1 + play.soon(), left, "clear", None, play.one_of("servo", None))
    return at


def plain_swap(play: Play, at: int) -> int:
    """A take to protect for a stated reason or none; back to the air-booked machine it is a return."""
    play.swap(at, play.one_of(None, None, "planned", "rehearsal", "return"))
    return at


def protect_fails(play: Play, at: int) -> int:
    """The protect machine fails and is mostly proved again."""
    cure = play.fail(at, play.protect)
    return play.cured(at + 1 + play.soon(), play.protect, cure)


def falls_out_of_step(play: Play, at: int) -> int:
    """The pair is measured out of step, later in step."""
    play.draft.log(at, play.protect, "offset", 0.5, play.one_of(None, play.feed))
    at += 1 + play.soon()
    play.draft.log(at, play.feed, "offset", -0.02, play.one_of(None, play.protect))
    return at


def rescued(play: Play, at: int) -> int:
    """The room goes off air to another source and comes back."""
    if play.soon(2):
        failed, cure = play.feed, play.fail(at, play.feed)
        at += play.soon()
        play.draft.take(at, play.channel, play.feed, "other", play.one_of(None, "fault"))
        play.cured(at + play.soon(), failed, cure)
    else:
        play.draft.take(at, play.channel, play.feed, "other", play.one_of("fault", "planned", None))
    at += 2 + play.soon()
    play.draft.take(at, play.channel, "other", play.feed, play.one_of(None, "return"))
    return at


def third_machine(play: Play, at: int) -> int:
    """A third machine is started, proved and becomes the protect or is taken."""
    play.draft.orders.append((at, "start", play.channel, None, play.third, None))
    proved = play.ready(at + play.soon(2), play.third, play.feed)
    play.protect, play.third = play.third, play.protect
    if play.soon(1):
        play.swap(proved + play.soon(), play.one_of(None, "precaution"))
    return proved


HAPPENINGS: tuple[Callable[[Play, int], int], ...] = (
    fault_taken, fault_taken, fault_by_standby, fault_healed, two_faults, precaution, precaution, plain_swap,
    plain_swap, protect_fails, falls_out_of_step, rescued, third_machine,
)  # fmt: skip


def _ending(play: Play, end: int) -> None:
    how = play.one_of("stop", "stop early", "standby", "goes on")
    early = end - play.soon(8)
    if how == "standby":
        play.draft.take(early, play.channel, play.feed, "standby", play.one_of("planned", "planned", None))
    if how != "goes on":
        for machine in {play.feed: 1, play.protect: 1, play.third: 1} if play.soon(1) else (play.feed,):
            play.draft.log(early if how == "stop early" else end + play.soon(), machine, "stop")


def _programme(play: Play, number: int, start: int) -> int:
    end = start + play.draw(st.sampled_from([60, 90, 40]))
    transmission = f"T{number}"
    play.draft.book(transmission, play.channel, play.feed, "air", (start, end))
    if play.soon(4):
        play.draft.book(transmission, play.channel, play.protect, "protect", (start - play.soon(), end + play.soon()))
    play.ready(start - 14, play.feed, play.protect)
    play.ready(start - 14, play.protect, play.feed)
    if play.soon(3):
        play.draft.take(start - play.soon(4), play.channel, None, play.feed, play.one_of("planned", None))
    at = start + play.soon(12)
    for _ in range(play.draw(st.integers(0, 4))):
        if at >= end:
            break
        at = play.draw(st.sampled_from(HAPPENINGS))(play, at) + 1 + play.soon(10)
    _ending(play, end)
    return int(end)


def _heartbeat(draw: Draw, draft: Draft) -> None:
    """Let one machine log `alive`, with a silence in it at times."""
    machine, every = draw(st.sampled_from(["A1", "A2"])), draw(st.sampled_from([5, 14]))
    silence = draw(st.integers(0, 150))
    for at in range(-20, 200, every):
        if not silence <= at < silence + 40:
            draft.log(at, machine, "alive")


@st.composite
def working_rooms(draw: Draw, noise: int = 4) -> Room:
    """Draw a room of one or two channels with one to three programmes each, and a few lines of noise."""
    draft = Draft()
    crews = [("ONE", "A1", "A2", "C1"), ("TWO", "B1", "B2", "C1")]
    number = 0
    for channel, air, protect, third in crews[: draw(st.integers(1, 2))]:
        start = draw(st.integers(0, 20))
        for _ in range(draw(st.integers(1, 3))):
            number += 1
            swapped = draw(st.booleans())
            pair = (protect, air) if swapped else (air, protect)
            play = Play(draw, draft, channel, *pair, third)
            start = _programme(play, number, start) + draw(st.sampled_from([0, 0, 1, 8, 30, -6]))
    if noise and draw(st.booleans()):
        random_events(draw, draft, ("A1", "A2", "B1", "B2", "C1"), noise)
    if draw(st.integers(0, 3)) == 0:
        _heartbeat(draw, draft)
    draft.log(draw(st.sampled_from([800, 800, 70])), "C1", "hours", 12.0)
    return finished(draft, draw(settings()), draw(registers()))
