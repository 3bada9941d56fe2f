"""Reads the date of a stamp, one distinct text at a time: a million stamps name only so many days."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from pipeline.ingest.times.reading import NO_ORDER, UNREADABLE

ORDERS = ("ymd", "dmy", "mdy")
MONTHS = {
    name: month
    for month, names in enumerate(
        (
            *("jan january", "feb february", "mar march", "apr april", "may", "jun june", "jul july", "aug august"),
            *("sep sept september", "oct october", "nov november", "dec december"),
        ),
        start=1,
    )
    for name in names.split()
}
WEEKDAY = re.compile(
    r"(?:mon(?:day)?|tue(?:s|sday)?|wed(?:nesday)?|thu(?:r|rs|rsday)?|fri(?:day)?|sat(?:urday)?|sun(?:day)?)"
    r"(?![a-z])[.,]?\s*",
    re.ASCII | re.IGNORECASE,
)
END = re.compile(r"(?:(?<=[0-9])[Tt]|[\s,.:])+$", re.ASCII)
NUMBERS = re.compile(r"([0-9]{1,4})(\. ?|/|-| )([0-9]{1,2})\2([0-9]{1,4})", re.ASCII)
COMPACT = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})", re.ASCII)
NAMED = re.compile(r"(?:[a-z]+|[0-9]{1,4})(?:[\s,./-]+(?:[a-z]+|[0-9]{1,4}))*", re.ASCII)
TOKEN = re.compile(r"[a-z]+|[0-9]+", re.ASCII)
ORDINAL = re.compile(r"(?<=[0-9])(?:st|nd|rd|th)(?![a-z])", re.ASCII)


@dataclass(frozen=True)
class DateText:
    """What a text says of a day. ``by_order``: the day it names in each order of dates in which it names one.

    ``is_plain``: it needs no order, as the year stands first in four digits, or the month by name. ``is_short``: its
    year has two digits, so that only a known order makes it a date. ``yearless``: month and day, if it names no year.
    """

    by_order: Mapping[str, date]
    is_plain: bool = False
    is_short: bool = False
    yearless: tuple[int, int] | None = None

    def in_order(self, order: str) -> tuple[date | None, str | None]:
        """The day meant where dates are written in ``order`` ("": not known), or the problem with it."""
        if not self.by_order:
            return None, UNREADABLE
        days = set(self.by_order.values())
        if self.is_plain or (not order and not self.is_short and len(days) == 1):
            return days.pop(), None
        if not order:
            return None, NO_ORDER
        day = self.by_order.get(order)
        return day, None if day else UNREADABLE


NOTHING = DateText({})


def read_date(text: str) -> DateText:
    """The days that ``text`` may name; English month names only, whatever their letter case.

    A weekday in front is passed over. Years of two digits are those of POSIX strptime %y: 69 to 99 are 1969 to 1999, 00
    to 68 are 2000 to 2068.
    """
    bare = without_weekday(text)
    numbers = NUMBERS.fullmatch(bare)
    if numbers is not None:
        return _of_numbers(numbers[1], numbers[3], numbers[4])
    compact = COMPACT.fullmatch(bare)
    if compact is not None:
        return _plain(_day(compact[1], compact[2], compact[3]))
    return _of_name(bare.lower())


def without_weekday(text: str) -> str:
    """``text`` without a weekday in front, and without what parts a date from the time that follows it."""
    text = text.strip(" ")
    weekday = WEEKDAY.match(text)
    return END.sub("", text[weekday.end() :] if weekday else text)


def _of_numbers(first: str, middle: str, last: str) -> DateText:
    if len(first) == 4:
        return _plain(_day(first, middle, last) if len(last) <= 2 else None)
    if len(last) == 4 and len(first) <= 2:
        return DateText(_known({"dmy": _day(last, middle, first), "mdy": _day(last, first, middle)}))
    if len(first) > 2 or len(last) > 2:
        return NOTHING
    return DateText(
        _known(
            {
                "ymd": _day(first, middle, last) if len(first) == 2 else None,
                "dmy": _day(last, middle, first) if len(last) == 2 else None,
                "mdy": _day(last, first, middle) if len(last) == 2 else None,
            }
        ),
        is_short=True,
    )


def _of_name(text: str) -> DateText:
    text = ORDINAL.sub("", text)
    if not NAMED.fullmatch(text):
        return NOTHING
    tokens = TOKEN.findall(text)
    names = [token for token in tokens if token.isalpha()]
    numbers = [token for token in tokens if token.isdigit()]
    if len(names) != 1 or names[0] not in MONTHS or not 1 <= len(numbers) <= 2:
        return NOTHING
    month = str(MONTHS[names[0]])
    if len(numbers) == 1:
        (number,) = numbers
        is_day = len(number) <= 2 and _day("2000", month, number) is not None  # 2000 has a 29 February
        return DateText({}, yearless=(int(month), int(number))) if is_day else NOTHING
    return _of_day_and_year(numbers[0], numbers[1], month)


def _of_day_and_year(first: str, second: str, month: str) -> DateText:
    if len(first) == 4 or len(second) == 4:
        year, day = (first, second) if len(first) == 4 else (second, first)
        return _plain(_day(year, month, day) if len(day) <= 2 else None)
    if len(first) > 2 or len(second) > 2:
        return NOTHING
    last = _day(second, month, first) if len(second) == 2 else None
    leading = _day(first, month, second) if len(first) == 2 else None
    return DateText(_known({"ymd": leading, "dmy": last, "mdy": last}), is_short=True)


def _plain(day: date | None) -> DateText:
    return DateText(_known({"ymd": day}), is_plain=True)


def _known(days: Mapping[str, date | None]) -> dict[str, date]:
    return {order: day for order, day in days.items() if day is not None}


def _day(year: str, month: str, day: str) -> date | None:
    number = int(year)
    if len(year) <= 2:
        number += 1900 if number >= 69 else 2000
    try:
        return date(number, int(month), int(day))
    except ValueError:
        return None
