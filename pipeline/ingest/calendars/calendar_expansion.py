"""Has the library work out when a recurring event and the changes to it occur (RFC 5545 section 3.8.5).

It is given local times only, and starts only: how long an occurrence lasts across a change of clocks is settled by the
event (``Event.ends_at``), where the library adds what the clock on the wall shows. A date added in UTC that falls into
the second of two equal hours is no occurrence of a rule, and is put beside.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import NamedTuple

import icalendar
from icalendar import vDDDTypes
from icalendar.prop import vDDDLists
from recurring_ical_events import EventAdapter  # type: ignore[import-untyped]

from pipeline.ingest.calendars.calendar_events import Event
from pipeline.ingest.calendars.calendar_rules import Bounds, Met, series_within
from pipeline.ingest.calendars.calendar_times import When

ALL_YEARS = (date(1000, 1, 1), date(3000, 1, 1))  # and more than are read


class Found(NamedTuple):
    """One occurrence: the event that describes it, its start, and where the recurring event had it first.

    ``is_own`` is set where the event was written for this one occurrence alone.
    """

    event: Event
    start: When
    original_at: datetime
    is_own: bool


def expand(master: Event, changes: Sequence[Event], bounds: Bounds) -> list[Found]:
    """The occurrences of ``master``, ordered by where it had them first; each instant comes once.

    Rules stay within ``bounds``, which say afterwards whether they were cut. Raises what the library raises.
    """
    bounds.begin(master.zone)
    adapters = {EventAdapter(_component(master, event)): event for event in (master, *changes)}
    series = series_within(bounds)([*adapters])
    found: dict[datetime, Found] = {}
    for met in series.between(*ALL_YEARS):
        each = _found(met, adapters[met.adapter], master)
        found.setdefault(each.original_at, each)
    gone = {master.clock.instant(when) for when in master.excluded}
    for when in master.added:
        at = master.clock.instant(when)
        if at not in gone and _comes_again(when, master):
            found.setdefault(at, Found(master, when, at, is_own=False))
    return [found[at] for at in sorted(found)]


def _found(met: Met, event: Event, master: Event) -> Found:
    if met.is_own and event.original is not None:
        start = event.start or event.original
        return Found(event, start, event.clock.instant(event.original), is_own=True)
    start = _zoned(met.start, master)
    if event is master:
        return Found(event, start, master.clock.instant(start), is_own=False)
    original = _zoned(met.start - met.adapter.move_recurrences_by, master)
    return Found(event, start, master.clock.instant(original), is_own=False)


def _component(master: Event, event: Event) -> icalendar.Event:
    """The event as the library takes it: without its texts and its end, in the local time of ``master``."""
    component = icalendar.Event()
    start = event.start or event.original  # what cancels an occurrence need not say when it is
    if start is None:
        raise ValueError("an event without a time")
    component["DTSTART"] = vDDDTypes(_wall(start, master) if isinstance(start, datetime) else start)
    if event.original is not None:
        component["RECURRENCE-ID"] = original = vDDDTypes(_same_type(event.original, master))
        if event.is_onward:
            original.params["RANGE"] = "THISANDFUTURE"
        return component
    component["RRULE"] = list(event.rules)
    for name, dates in (("RDATE", event.added), ("EXDATE", event.excluded)):
        walls = [_same_type(when, master) for when in dates if not _comes_again(when, master)]
        if walls:
            component[name] = vDDDLists(walls)
    return component


def _comes_again(when: When, master: Event) -> bool:
    """Whether it is in the second of two equal hours, which no local time means and the library cannot be told."""
    return isinstance(when, datetime) and _wall(when, master).fold == 1


def _same_type(when: When, master: Event) -> When:
    """``when`` as a date where the event has only dates, else as local time; a date among times stays one."""
    if not isinstance(when, datetime):
        return when
    return _wall(when, master) if isinstance(master.start, datetime) else when.date()


def _wall(when: datetime, master: Event) -> datetime:
    return when.astimezone(master.zone).replace(tzinfo=None)


def _zoned(when: When, master: Event) -> When:
    return when.replace(tzinfo=master.zone) if isinstance(when, datetime) else when
