"""Keeps the library's recurrence within bounds: a rule may have no end, no day at all, or one every second.

Which days a rule means is the library's answer alone (RFC 5545 section 3.3.10). It hands out local times, so it is
given local times here, and zones are applied after it: of UTC and local time it would compare both with both, and one
EXDATE would take out two occurrences an offset apart.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from math import prod
from typing import Any, SupportsIndex

from icalendar import vRecur
from recurring_ical_events import Occurrence, Series  # type: ignore[import-untyped]

from pipeline.ingest.calendars.calendar_times import LAST_YEAR, LEAP_SECOND, LONGEST_QUOTE, UnreadableError, When

MOST_OF_AN_EVENT = 10_000
TOO_MANY = f"an event is read to {MOST_OF_AN_EVENT:,} occurrences"
TOO_SLOW = "its rule takes too many steps to follow"
RULE_COST = 300_000  # what one rule may cost in microseconds, as measured once: a count, so that every machine agrees
FILE_COST = 6_000_000
MOST_TIMES_A_DAY = 1440
MOST_VALUES = 800
LONGEST_RULE = 8192
DAY = timedelta(days=1)
EVERY = {  # the shortest step of a frequency, and what the library needs for one
    "YEARLY": (365 * DAY, 27),
    "MONTHLY": (28 * DAY, 4),
    "WEEKLY": (7 * DAY, 3),
    "DAILY": (DAY, 2),
    "HOURLY": (timedelta(hours=1), 3),
    "MINUTELY": (timedelta(minutes=1), 3),
    "SECONDLY": (timedelta(seconds=1), 3),
}
PARTS = re.compile(
    r"(?:(?:FREQ=[A-Z]+|UNTIL=[0-9TZ]+|(?:COUNT|INTERVAL)=[0-9]{1,12}|WKST=[A-Z]{2}|BYDAY=[A-Z0-9+,-]+|"
    r"BY(?:SECOND|MINUTE|HOUR|MONTHDAY|YEARDAY|WEEKNO|MONTH|SETPOS)=[0-9+,-]+)(?:;|$))+"
)
LISTS = ("BYSECOND", "BYMINUTE", "BYHOUR", "BYDAY", "BYMONTHDAY", "BYYEARDAY", "BYWEEKNO", "BYMONTH", "BYSETPOS")


def read_rule(value: str, start: When, zone: tzinfo) -> vRecur:
    """The rule of an event that begins at ``start``, with UNTIL as local time in ``zone``, or as a date if it is one.

    An UNTIL without a zone is local time; one that is a date, for times, means the whole of that day; one beyond the
    years that are read is no end.

    Raises:
        UnreadableError: it is no rule of RFC 5545, never moves on, or names more than a rule can mean.
    """
    text = LEAP_SECOND.sub(r"\g<1>59", value.strip().upper())
    names = [part.partition("=")[0] for part in text.rstrip(";").split(";")]
    if len(text) > LONGEST_RULE or not PARTS.fullmatch(text) or len(set(names)) < len(names):
        raise UnreadableError(_no_rule(value, "Expected one of RFC 5545, such as FREQ=WEEKLY;COUNT=10"))
    try:
        rule: vRecur = vRecur.from_ical(text)
        until = [_local_until(each, start, zone) for each in rule.pop("UNTIL", []) if each.year <= LAST_YEAR]
    except (ValueError, OverflowError):
        raise UnreadableError(_no_rule(value, "Expected one of RFC 5545, such as FREQ=WEEKLY;COUNT=10")) from None
    _check_sense(rule, value)
    if until:
        rule["UNTIL"] = until
    return rule


def _check_sense(rule: vRecur, value: str) -> None:
    frequency, interval = "".join(rule.get("FREQ", [])), rule.get("INTERVAL", [1])[0]
    if frequency not in EVERY:
        raise UnreadableError(_no_rule(value, "Expected a FREQ"))
    if not 1 <= interval <= 400 * EVERY["YEARLY"][0] // EVERY[frequency][0]:
        raise UnreadableError(_no_rule(value, "Expected an INTERVAL of at least 1 that is no longer than 400 years"))
    if rule.get("COUNT", [1])[0] < 1 or ("COUNT" in rule and "UNTIL" in value.upper()):
        raise UnreadableError(_no_rule(value, "Expected COUNT of at least 1, or UNTIL, not both"))
    if prod(len(rule.get(name, [0])) for name in LISTS[:3]) > MOST_TIMES_A_DAY:
        raise UnreadableError(_no_rule(value, f"Expected at most {MOST_TIMES_A_DAY:,} times a day"))
    if sum(len(rule.get(name, [])) for name in LISTS) > MOST_VALUES:
        raise UnreadableError(_no_rule(value, f"Expected at most {MOST_VALUES} numbers and days in it"))


def _local_until(until: When, start: When, zone: tzinfo) -> When:
    if not isinstance(start, datetime):
        return date(until.year, until.month, until.day)
    if not isinstance(until, datetime):
        return datetime.combine(until, time(23, 59, 59))
    return until.replace(tzinfo=None) if until.tzinfo is None else until.astimezone(zone).replace(tzinfo=None)


def _no_rule(value: str, expected: str) -> str:
    return f'RRULE "{value.strip()[:LONGEST_QUOTE]}" cannot be followed. {expected}.'


@dataclass
class Bounds:
    """How far the rules of a file are followed: without an end, or with a very late one, to before ``horizon_at``.

    Mutable: ``cost_left`` is what all rules may still cost. Of the event at hand ``horizon`` is the same in its local
    time, ``short`` says why a rule was cut off before it, if one was, ``is_ended`` that one was not read to its end.
    """

    horizon_at: datetime
    cost_left: int = FILE_COST
    horizon: datetime = datetime.min  # noqa: DTZ901 - a wall time
    short: str = ""
    is_ended: bool = False

    def begin(self, zone: tzinfo) -> None:
        """An event whose local time is that of ``zone`` comes next."""
        self.horizon = self.horizon_at.astimezone(zone).replace(tzinfo=None)
        self.short, self.is_ended = "", False


class _TooManyStepsError(Exception):
    """A rule took all the steps it may."""


class _Interval(int):
    """An INTERVAL that counts how often it is stepped over: what moves a rule on is that this number is added."""

    left: int

    def __radd__(self, other: int) -> int:
        self._step()
        return int(self) + other

    def __mul__(self, other: SupportsIndex) -> int:
        self._step()
        return int(self) * int(other)

    def _step(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise _TooManyStepsError


class BoundedRule:
    """A rule of the library that ends; the library asks it as it asks its own, by ``between`` and ``until``."""

    def __init__(self, rule: Any, start: datetime, bounds: Bounds) -> None:
        self.until: When | None = rule.until
        self._rule = rule
        self._parts = vRecur.from_ical(rule.string)
        self._start = start
        self._bounds = bounds
        self._found: list[datetime] | None = None

    def between(self, after: datetime, before: datetime, *, inc: bool) -> list[datetime]:
        """The starts from ``after`` to ``before``, and at these two where ``inc`` says so."""
        if self._found is None:
            self._found = self._follow()
        return [start for start in self._found if after < start < before or (inc and start in {after, before})]

    def _follow(self) -> list[datetime]:
        """All starts; of a rule that goes beyond the bounds, those before the horizon as far as they are allowed."""
        bounds = self._bounds
        needed, cost = self._steps()
        allowed = max(0, min(RULE_COST, bounds.cost_left) // cost)
        interval = _Interval(self._parts.get("INTERVAL", [1])[0])
        interval.left = min(allowed, needed) if self._is_endless else allowed
        steps = interval.left
        found: list[datetime] = []
        is_over = is_stuck = False
        try:
            is_over = self._fill(found, interval)
        except _TooManyStepsError:
            is_over, is_stuck = True, steps < needed
        bounds.cost_left -= (steps - max(0, interval.left)) * cost
        if not is_over:
            return found
        found = [start for start in found if start < bounds.horizon]
        bounds.is_ended = True
        bounds.short = bounds.short or (TOO_SLOW if is_stuck else TOO_MANY if len(found) > MOST_OF_AN_EVENT else "")
        return found[:MOST_OF_AN_EVENT]

    def _fill(self, found: list[datetime], interval: _Interval) -> bool:
        """Put the starts into ``found``; whether the rule goes on beyond what is read."""
        for start in self._rule.replace(interval=interval, cache=False):
            if start.year > LAST_YEAR or (self._is_endless and start >= self._bounds.horizon):
                return True
            found.append(start)
            if len(found) > MOST_OF_AN_EVENT:
                return True
        return False

    @property
    def _is_endless(self) -> bool:
        return "COUNT" not in self._parts and "UNTIL" not in self._parts

    def _steps(self) -> tuple[int, int]:
        """The steps from the start to the horizon at most, and what one of them costs."""
        parts = self._parts
        every, cost = EVERY[parts["FREQ"][0]]
        values = sum(len(parts.get(name, [])) for name in LISTS)
        span = max(timedelta(0), self._bounds.horizon - self._start)
        needed = span // (every * parts.get("INTERVAL", [1])[0]) + 2
        return needed, cost * (1 + values // 100 + 2 * len(parts.get("BYSETPOS", [])))


class Met(Occurrence):  # type: ignore[misc]
    """An occurrence as the library found it: of which event, and whether it is that event's own, at its own time."""

    def __init__(self, adapter: Any, start: When | None = None, end: When | None = None, sequence: int = -1) -> None:
        super().__init__(adapter, start, end, sequence)
        self.adapter = adapter
        self.is_own = start is None


def series_within(bounds: Bounds) -> type[Series]:
    """The library's series, with rules that stay within ``bounds``."""

    class BoundedRules(Series.RecurrenceRules):  # type: ignore[misc]
        def rrulestr(self, rule_string: str) -> BoundedRule:
            return BoundedRule(super().rrulestr(rule_string), self.start, bounds)

    class BoundedSeries(Series):  # type: ignore[misc]
        RecurrenceRules = BoundedRules
        occurrence = Met

    return BoundedSeries
