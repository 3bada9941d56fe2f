"""Settles what the events of a calendar come to: which version of each holds, which are off, and when they occur.

An event may be written several times (RFC 5546 section 2.1.5: the highest SEQUENCE holds, then the latest DTSTAMP), and
single occurrences of it apart from it (RFC 5545 section 3.8.4.4). Every event ends as an occurrence or set aside.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from pipeline.ingest.calendars.calendar_events import Event, newest_of
from pipeline.ingest.calendars.calendar_expansion import Found, expand
from pipeline.ingest.calendars.calendar_rules import MOST_OF_AN_EVENT, TOO_MANY, Bounds
from pipeline.ingest.calendars.calendar_times import LAST_YEAR, UnreadableError, When, iso

MOST_OF_A_FILE = 50_000
MOST_ONWARD = 200  # changes of one event that hold for all later occurrences: each occurrence is held against them
BEYOND = timedelta(days=400)
FILE_FULL = f"a file is read to {MOST_OF_A_FILE:,} occurrences of recurring events"
FAILED = "The recurrence of the event cannot be followed. Mend its rule in the calendar, or write its dates out."
TAKEN_OUT = "EXDATE of the event on line {} takes this occurrence out."
LATER = ("its SEQUENCE is higher", "its DTSTAMP is later", "it stands further down")
NONE_LEFT = "No occurrence of the event is left: each is taken out by EXDATE or changed by another event of its UID."


@dataclass(frozen=True)
class Occurrence:
    """One occurrence, in UTC. ``original_at`` is where its event had it first, None for one that does not recur."""

    event: Event
    starts_at: datetime
    ends_at: datetime
    original_at: datetime | None = None


@dataclass
class Outcome:
    """What a file comes to. ``aside`` has events, each with the reason why it, or its rest, is no row; ``ended_at`` is
    the horizon, if a rule was ended by it.
    """

    occurrences: list[Occurrence] = field(default_factory=list)
    aside: list[tuple[Event, str]] = field(default_factory=list)
    ended_at: datetime | None = None
    generated_left: int = MOST_OF_A_FILE

    def put_aside(self, event: Event, reason: str) -> None:
        """Set the event, or what is left of it, aside."""
        self.aside.append((event, reason))


def settle(events: Iterable[Event], zone: ZoneInfo, until: date | None) -> Outcome:
    """The occurrences of all events; recurrence without an end goes on to before midnight of ``until`` in ``zone``,
    else to 400 days after the newest time that any event names outside its rules.
    """
    events = list(events)
    outcome = Outcome()
    bounds = Bounds(_horizon(events, zone, until))
    for versions in _by_uid(events, outcome).values():
        holding = _holding(versions, outcome)
        master = holding.pop(None, None)
        changes = list(holding.values())
        if master is None:
            _settle_apart(changes, outcome)
        elif master.is_cancelled:
            outcome.put_aside(master, master.reason)
            for change in changes:
                gone = f"cancelled: its event, on line {master.block.line}, is cancelled."
                outcome.put_aside(change, change.reason or gone)
        elif changes or master.is_recurring or master.excluded:
            _settle_series(master, changes, bounds, outcome)
        else:
            _settle_apart([master], outcome)
    return outcome


def _horizon(events: list[Event], zone: ZoneInfo, until: date | None) -> datetime:
    if until is not None:
        return datetime.combine(until, time(0), zone).astimezone(UTC)
    newest = max((at for at in map(newest_of, events) if at is not None), default=datetime(LAST_YEAR, 1, 1, tzinfo=UTC))
    return newest + BEYOND


def _by_uid(events: list[Event], outcome: Outcome) -> dict[str | int, list[Event]]:
    """The events of each UID; one without has only itself. What is unreadable or no booking is set aside."""
    groups: dict[str | int, list[Event]] = {}
    for event in events:
        is_lost = event.original is None and bool(event.value("RECURRENCE-ID"))
        if event.reason and (not event.is_cancelled or event.block.flaw or event.is_answer or is_lost):
            outcome.put_aside(event, event.reason)
        else:
            groups.setdefault(event.uid or event.block.line, []).append(event)
    return groups


def _holding(versions: list[Event], outcome: Outcome) -> dict[datetime | None, Event]:
    """The version that holds of the event itself, under None, and of each of its occurrences written apart."""
    holding: dict[datetime | None, Event] = {}
    for event in sorted(versions, key=lambda each: each.rank, reverse=True):
        key = None if event.original is None else event.clock.instant(event.original)
        later = holding.setdefault(key, event)
        if later is event:
            continue
        why = next(why for why, mine, its in zip(LATER, later.rank, event.rank, strict=True) if mine != its)
        outcome.put_aside(event, f"Replaced by the event of the same UID on line {later.block.line}: {why}.")
    return holding


def _settle_apart(events: list[Event], outcome: Outcome) -> None:
    """Events that stand alone: single ones, and occurrences whose event is not in the file."""
    for event in events:
        if event.is_cancelled or event.start is None:
            outcome.put_aside(event, event.reason)
        else:
            original_at = None if event.original is None else event.clock.instant(event.original)
            _put(event, event.start, original_at, outcome)


def _put(event: Event, start: When, original_at: datetime | None, outcome: Outcome) -> None:
    starts_at = event.clock.instant(start)
    try:
        ends_at = event.ends_at(start)
    except UnreadableError as error:
        outcome.put_aside(event, str(error))
        return
    if ends_at < starts_at:  # only an RDATE can bring such an end: others were checked
        outcome.put_aside(event, f"Its period of {iso(starts_at)} in RDATE ends before it begins. Mend it there.")
    else:
        outcome.occurrences.append(Occurrence(event, starts_at, ends_at, original_at))


def _settle_series(master: Event, changes: list[Event], bounds: Bounds, outcome: Outcome) -> None:
    """The occurrences of a recurring event and of the changes to it; each of these events ends somewhere."""
    events = [master, *changes]
    if sum(change.is_onward for change in changes) > MOST_ONWARD:
        return _fail(events, f"The event is changed for all that follow more than {MOST_ONWARD} times.", outcome)
    try:
        found = expand(master, changes, bounds)
    except Exception:  # the library raises what it likes on a rule it cannot follow
        return _fail(events, FAILED, outcome)
    read, left_out = _within(found, outcome)
    for each in read:
        if not each.event.is_cancelled:
            _put(each.event, each.start, each.original_at, outcome)
    if bounds.is_ended:
        outcome.ended_at = bounds.horizon_at
    if short := bounds.short or left_out:
        last_at = max((each.original_at for each in read if not each.is_own), default=None)
        outcome.put_aside(master, _rest(last_at, short, bounds))
    known = {id(each.event) for each in read}
    for event in events:
        if event.is_cancelled:
            outcome.put_aside(event, event.reason)
        elif id(event) not in known and not (event is master and short):
            outcome.put_aside(event, NONE_LEFT if event is master else TAKEN_OUT.format(master.block.line))
    return None


def _within(found: list[Found], outcome: Outcome) -> tuple[list[Found], str]:
    """As many of the occurrences as are read, and why not more. Those written out one by one always are."""
    room = min(MOST_OF_AN_EVENT, outcome.generated_left)
    why = TOO_MANY if room == MOST_OF_AN_EVENT else FILE_FULL
    generated = [each for each in found if not each.is_own]
    outcome.generated_left -= min(room, len(generated))
    if len(generated) <= room:
        return found, ""
    first_left_out = generated[room].original_at
    return [each for each in found if each.is_own or each.original_at < first_left_out], why


def _rest(last_at: datetime | None, why: str, bounds: Bounds) -> str:
    """Why the occurrences after ``last_at`` are not read, and what to do."""
    after = f"after {iso(last_at)}" if last_at else "of the event"
    return (
        f"The occurrences {after} are left out: {why}. Set until in its [[feeds]] table to a day before "
        f"{bounds.horizon_at:%Y-%m-%d}, or give the event an end in the calendar."
    )


def _fail(events: list[Event], reason: str, outcome: Outcome) -> None:
    for event in events:
        outcome.put_aside(event, event.reason or reason)
