"""What is known of one machine, or of two together, at one instant: each answer replays the log from its first line.

Slow on purpose: a sentence of section 3 stands next to the few lines that apply it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from tests.second_reader.records import OTHER, STANDBY, Event, Facts

GOOD, NOT_GOOD, NOT_KNOWN = "good", "not good", "not known"
IN_STEP, OUT_OF_STEP, NOT_PROVED = "in step", "out of step", "not proved"

# Equal stamps, section 2. The rest comes after; among it an alarm before its clear, as a loss before its return.
ORDER = {
    "stop": 0, "roll": 1, "unlock": 2, "lock": 3, "picture_lost": 4, "sound_lost": 4,
    "picture_back": 5, "sound_back": 5, "alarm": 6, "clear": 7,
}  # fmt: skip


@dataclass(frozen=True)
class Condition:
    """A machine as its log tells it: True proved, False proved against, None never shown."""

    rolling: bool | None = None
    locked: bool | None = None
    picture: bool | None = None
    sound: bool | None = None
    heard: int | None = None
    running_since: int | None = None  # rolling and locked without a break since then

    @property
    def word(self) -> str:
        """Good, not good, or not known by the log alone, whatever its age."""
        if self.rolling is False or False in (self.locked, self.picture, self.sound):
            return NOT_GOOD
        proved = self.rolling and self.locked and self.picture and self.sound
        return GOOD if proved else NOT_KNOWN


@lru_cache(maxsize=50_000)
def lines_of(facts: Facts, machine: str) -> tuple[Event, ...]:
    """Return the machine's events in the order in which they count."""
    own = [e for e in facts.events if e.machine == machine]
    return tuple(sorted(own, key=lambda e: (e.at, ORDER.get(e.event, 8))))


def ever_logs(facts: Facts, machine: str, event: str) -> bool:
    """Whether the machine logs this event anywhere in the data."""
    return any(e.event == event for e in lines_of(facts, machine))


def _rolled(was: Condition, at: int, carry: int, locks_itself: bool) -> Condition:
    if was.rolling and was.heard is not None and at - was.heard <= carry:
        return was  # it is rolling already and was heard from: changes nothing
    return replace(was, rolling=True, locked=locks_itself, picture=True, sound=True, running_since=None)


def _step(was: Condition, line: Event, carry: int, locks_itself: bool) -> Condition:
    proof = True if was.rolling else None  # without a seen roll, lock and *_back prove nothing
    match line.event:
        case "roll":
            now = _rolled(was, line.at, carry, locks_itself)
        case "stop":
            now = replace(was, rolling=False, locked=False)
        case "unlock":
            now = replace(was, locked=False)
        case "lock":
            now = was if was.rolling is False else replace(was, locked=proof)
        case "picture_lost":
            now = replace(was, picture=False)
        case "picture_back":
            now = replace(was, picture=proof)
        case "sound_lost":
            now = replace(was, sound=False)
        case "sound_back":
            now = replace(was, sound=proof)
        case _:
            now = was
    running = bool(now.rolling and now.locked)
    since = (line.at if now.running_since is None else now.running_since) if running else None
    return replace(now, heard=line.at, running_since=since)


@lru_cache(maxsize=50_000)
def condition(facts: Facts, machine: str, at: int) -> Condition:
    """Return the machine after all its events up to and at this instant."""
    locks_itself = not ever_logs(facts, machine, "lock")
    now = Condition()
    for line in lines_of(facts, machine):
        if line.at <= at:
            now = _step(now, line, facts.rules.carry, locks_itself)
    return now


def known(facts: Facts, machine: str, window_start: int, at: int) -> bool:
    """Whether anything is known of the machine at this instant of a window."""
    stamps = [e.at for e in lines_of(facts, machine) if e.at <= at]
    if not stamps:
        return False
    if ever_logs(facts, machine, "alive") and at >= stamps[-1] + facts.rules.silence:
        return False
    if stamps[-1] >= window_start - facts.rules.lead:
        return True
    left_rolling = condition(facts, machine, window_start).rolling is True
    return left_rolling and stamps[-1] >= window_start - facts.rules.carry


def standing(facts: Facts, machine: str, window_start: int, at: int) -> str:
    """Return good, not good or not known, as section 3 judges the machine in a window."""
    return condition(facts, machine, at).word if known(facts, machine, window_start, at) else NOT_KNOWN


def not_good_since(facts: Facts, machine: str, at: int) -> int | None:
    """Return the start of the not-good stretch the machine is in at this instant, None when it is in none."""
    since = None
    for stamp in sorted({e.at for e in lines_of(facts, machine) if e.at <= at}):
        bad = condition(facts, machine, stamp).word == NOT_GOOD
        since = (stamp if since is None else since) if bad else None
    return since


def open_alarms(facts: Facts, machine: str, at: int) -> list[int]:
    """Return the stamps of the alarms open at an instant: no stop, no clear of theirs since, not older than lead_s."""
    opened: list[Event] = []
    for line in lines_of(facts, machine):
        if line.at > at:
            break
        if line.event == "stop":
            opened = []
        elif line.event == "clear":
            opened = [a for a in opened if line.detail is not None and a.detail != line.detail]
        elif line.event == "alarm":
            opened.append(line)
    return [a.at for a in opened if at - a.at <= facts.rules.lead]


@lru_cache(maxsize=1_000)
def _names(facts: Facts) -> frozenset[str]:
    named = {e.machine for e in facts.events} | {b.machine for b in facts.bookings} | set(facts.pairs)
    named |= {o.to for o in facts.orders} | {o.source for o in facts.orders if o.source}
    return frozenset(named - {STANDBY, OTHER})


def _registered_partner(facts: Facts, machine: str) -> str | None:
    pair = facts.pairs.get(machine)
    mates = {m for m, p in facts.pairs.items() if m != machine and ((pair and p == pair) or p == machine)}
    if pair and pair != machine and pair in _names(facts):
        mates.add(pair)
    return mates.pop() if len(mates) == 1 else None


def _booked_with(facts: Facts, machine: str, at: int) -> str | None:
    live = [b for b in facts.bookings if b.role in ("air", "protect") and b.starts - facts.rules.lead <= at < b.ends]
    mine = {(b.channel, b.transmission) for b in live if b.machine == machine}
    others = {b.machine for b in live if (b.channel, b.transmission) in mine} - {machine}
    return others.pop() if len(others) == 1 else None


@lru_cache(maxsize=50_000)
def partner_of(facts: Facts, line: Event) -> str | None:
    """Return the machine an offset was measured against, None when the line cannot be used."""
    if line.value is None:
        return None
    if line.detail in _names(facts) and line.detail != line.machine:
        return line.detail
    return _registered_partner(facts, line.machine) or _booked_with(facts, line.machine, line.at)


def step(facts: Facts, one: str, two: str, at: int) -> str:
    """Return whether two machines are in step: by the last offset since both were last rolling and locked."""
    since_one = condition(facts, one, at).running_since
    since_two = condition(facts, two, at).running_since
    if since_one is None or since_two is None:
        return NOT_PROVED
    since = max(since_one, since_two)
    lines = [e for e in (*lines_of(facts, one), *lines_of(facts, two)) if e.event == "offset" and since <= e.at <= at]
    usable = [(e.at, abs(e.value or 0.0)) for e in lines if {e.machine, partner_of(facts, e)} == {one, two}]
    if not usable:
        return NOT_PROVED
    return IN_STEP if max(usable)[1] <= facts.rules.tolerance_s else OUT_OF_STEP  # of equal stamps the worse
