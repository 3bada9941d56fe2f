"""How numbers and instants read on a page: always with their unit, never finer than they are known.

Every page prints through these functions, so that one quantity looks the same wherever it stands.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

NOT_KNOWN = "not known"
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True)
class Local:
    """The site's zone, and instants (naive UTC) as its wall clock shows them, 24 hours, to a hundredth of a second."""

    zone: ZoneInfo

    def wall(self, at_utc: datetime) -> datetime:
        """The local wall time, rounded to 10 ms."""
        steps = round(at_utc.microsecond / 10_000)
        rounded = at_utc.replace(microsecond=0) + timedelta(milliseconds=10 * steps)
        return rounded.replace(tzinfo=UTC).astimezone(self.zone)

    def date(self, at_utc: datetime) -> str:
        """Such as "14 March 2031"."""
        wall = self.wall(at_utc)
        return f"{wall.day} {MONTHS[wall.month - 1]} {wall.year}"

    def time(self, at_utc: datetime) -> str:
        """Such as "20:41:07" or "20:41:07.25"."""
        wall = self.wall(at_utc)
        part = f".{wall.microsecond // 10_000:02d}" if wall.microsecond else ""
        return f"{wall:%H:%M:%S}{part}"

    def stamp(self, at_utc: datetime | None) -> str:
        """Such as "2031-03-14 20:41:07"; without an instant "not recorded"."""
        return "not recorded" if at_utc is None else f"{self.wall(at_utc):%Y-%m-%d} {self.time(at_utc)}"

    def minute(self, at_utc: datetime | None) -> str:
        """Such as "2031-03-14 20:41"; without an instant "not recorded"."""
        return "not recorded" if at_utc is None else f"{self.wall(at_utc):%Y-%m-%d %H:%M}"

    def zone_name(self, at_utc: datetime) -> str:
        """The zone's short name at that instant, such as "CET"."""
        return self.wall(at_utc).tzname() or self.zone.key

    def about(self, at_utc: datetime) -> str:
        """Such as "14 March 2031 at 20:41 CET", to be read aloud."""
        return f"{self.date(at_utc)} at {self.wall(at_utc):%H:%M} {self.zone_name(at_utc)}"

    def when(self, at_utc: datetime) -> str:
        """Such as "14 March 2031 at 20:41:07 CET"."""
        return f"{self.date(at_utc)} at {self.time(at_utc)} {self.zone_name(at_utc)}"


def month_name(month: str) -> str:
    """ "March 2031" from "2031-03"."""
    year, number = month.split("-")
    return f"{MONTHS[int(number) - 1]} {year}"


def duration(seconds: float | None) -> str:
    """Seconds as "0.04 s", "4.2 s", "3 min 12 s" or "2 h 05 min"; None is "not known"."""
    if seconds is None:
        return NOT_KNOWN
    if seconds < 0:
        return f"−{duration(-seconds)}"
    if 0 < seconds < 0.005:
        return "under 0.01 s"
    if seconds < 59.95:
        return f"{seconds:.2f} s" if 0 < seconds < 0.995 else f"{seconds:.1f}".removesuffix(".0") + " s"
    whole = math.floor(seconds + 0.5)
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s" if whole % 60 else f"{whole // 60} min"
    minutes = math.floor(seconds / 60 + 0.5)
    return f"{minutes // 60:,} h {minutes % 60:02d} min" if minutes % 60 else f"{minutes // 60:,} h"


def hours(seconds: float | None) -> str:
    """Seconds as hours: "412.6 h", below 10 h "2.45 h"; below 6 min as a duration, so that little is not lost."""
    if seconds is None:
        return NOT_KNOWN
    if 0 < seconds < 360:
        return duration(seconds)
    if seconds == 0:
        return "0 h"
    return f"{seconds / 3600:,.1f} h" if seconds >= 36_000 else f"{seconds / 3600:.2f} h"


def share(part: float, whole: float) -> str:
    """A part of a whole in percent, one decimal; a part that is there is never printed as 0."""
    if whole <= 0:
        return "n/a"
    value = 100 * part / whole
    if value == 0:
        return "0 %"
    if 0 < value < 0.05:
        return "under 0.1 %"
    return f"{value:.1f} %"


def percent(ratio: float | None) -> str:
    """A share 0–1 in percent, whole numbers."""
    return "n/a" if ratio is None else f"{100 * ratio:.0f} %"


def continuity(ratio: float | None) -> str:
    """A share 0–1 in percent, three decimals, cut and not rounded: what lost a second is never 100 %."""
    return "n/a" if ratio is None else f"{math.floor(ratio * 100_000 + 1e-6) / 1000:.3f} %"


def figure(value: float | None) -> str:
    """A number to three figures that count: 0, 0.52, 5.24, 52.4, 524, 5,240."""
    if value is None or math.isnan(value):
        return "n/a"
    if math.isinf(value):
        return "without limit"
    if value == 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:,.{min(places, 2)}f}" if abs(value) >= 0.01 else "under 0.01"


def limits(low: float | None, high: float | None) -> str:
    """Limits as "2.1 to 9.4"."""
    return f"{figure(low)} to {figure(high)}" if low is not None and high is not None else "n/a"


def rate(value: Mapping[str, Any]) -> str:
    """A rate and its limits as "5.24 (2.1 to 9.4)"; "n/a" where there was no air."""
    return "n/a" if value["value"] is None else f"{figure(value['value'])} ({limits(value['low'], value['high'])})"


def chance(p: float) -> str:
    """A p-value as "p = 0.42", "p = 0.003" or "p below 0.001"."""
    return "p below 0.001" if p < 0.001 else f"p = {p:.3f}" if p < 0.01 else f"p = {p:.2f}"


def counted(number: int, one: str, many: str | None = None) -> str:
    """ "3 switches", "1 switch", "0 switches"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def spoken(number: int, one: str, many: str | None = None) -> str:
    """As ``counted``, in words up to twelve: "three switches", "no switches"."""
    word = SMALL[number] if number < len(SMALL) else f"{number:,}"
    return f"{word} {one if number == 1 else many or one + 's'}"


def times(number: int) -> str:
    """ "never", "once", "twice", "three times"."""
    return ("never", "once", "twice")[number] if number < 3 else spoken(number, "time")


def needed(asked: int, met: int) -> str:
    """ "needed twice and met the need once", "needed once and never met the need"."""
    return f"needed {times(asked)} and {'met the need ' + times(met) if met else 'never met the need'}"


def listed(parts: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def within(seconds: float | None) -> str:
    """The ± of an instant: "± 0.4 s", or "± not known"."""
    return "± not known" if seconds is None else f"± {duration(seconds)}"


def capital(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]
