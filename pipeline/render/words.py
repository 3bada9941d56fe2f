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

from pipeline.render.language import (
    SOURCE,
    date_in_words,
    decimal,
    month_of_year,
    say,
    say_counted,
    spoken_language,
    whole,
)

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
        return date_in_words(self.wall(at_utc).date())

    def time(self, at_utc: datetime) -> str:
        """Such as "20:41:07" or "20:41:07.25"."""
        wall = self.wall(at_utc)
        part = f".{wall.microsecond // 10_000:02d}" if wall.microsecond else ""
        return f"{wall:%H:%M:%S}{part}"

    def stamp(self, at_utc: datetime | None) -> str:
        """Such as "2031-03-14 20:41:07"; without an instant "not recorded"."""
        return say("not recorded") if at_utc is None else f"{self.wall(at_utc):%Y-%m-%d} {self.time(at_utc)}"

    def minute(self, at_utc: datetime | None) -> str:
        """Such as "2031-03-14 20:41"; without an instant "not recorded"."""
        return say("not recorded") if at_utc is None else f"{self.wall(at_utc):%Y-%m-%d %H:%M}"

    def zone_name(self, at_utc: datetime) -> str:
        """The zone's short name at that instant, such as "CET"."""
        return self.wall(at_utc).tzname() or self.zone.key

    def about(self, at_utc: datetime) -> str:
        """Such as "14 March 2031 at 20:41 CET", to be read aloud."""
        wall = self.wall(at_utc)
        return say("{date} at {time} {zone}", date=self.date(at_utc), time=f"{wall:%H:%M}", zone=self.zone_name(at_utc))

    def when(self, at_utc: datetime) -> str:
        """Such as "14 March 2031 at 20:41:07 CET"."""
        zone = self.zone_name(at_utc)
        return say("{date} at {time} {zone}", date=self.date(at_utc), time=self.time(at_utc), zone=zone)


def month_name(month: str) -> str:
    """ "March 2031" from "2031-03"."""
    year, number = month.split("-")
    return month_of_year(int(year), int(number))


def not_known() -> str:
    """What stands where a figure is not known."""
    return say("not known")


def not_applicable() -> str:
    """What stands where a figure does not apply."""
    return say("n/a")


def duration(seconds: float | None) -> str:
    """Seconds as "0.04 s", "4.2 s", "3 min 12 s" or "2 h 05 min"; None is "not known"."""
    if seconds is None:
        return not_known()
    if seconds < 0:
        return f"−{duration(-seconds)}"
    if 0 < seconds < 0.005:
        return say("under {least}", least=f"{decimal(0.01, 2)} s")
    if seconds < 59.95:
        places = 2 if 0 < seconds < 0.995 else 0 if f"{seconds:.1f}".endswith(".0") else 1
        return f"{decimal(seconds, places)} s"
    up = math.floor(seconds + 0.5)
    if up < 3600:
        return f"{up // 60} min {up % 60:02d} s" if up % 60 else f"{up // 60} min"
    minutes = math.floor(seconds / 60 + 0.5)
    return f"{whole(minutes // 60)} h {minutes % 60:02d} min" if minutes % 60 else f"{whole(minutes // 60)} h"


def hours(seconds: float | None) -> str:
    """Seconds as hours: "412.6 h", below 10 h "2.45 h"; below 6 min as a duration, so that little is not lost."""
    if seconds is None:
        return not_known()
    if 0 < seconds < 360:
        return duration(seconds)
    if seconds == 0:
        return "0 h"
    return f"{decimal(seconds / 3600, 1 if seconds >= 36_000 else 2)} h"


def share(part: float, whole: float) -> str:
    """A part of a whole in percent, one decimal; a part that is there is never printed as 0."""
    if whole <= 0:
        return not_applicable()
    value = 100 * part / whole
    if value == 0:
        return "0 %"
    if 0 < value < 0.05:
        return say("under {least}", least=f"{decimal(0.1, 1)} %")
    return f"{decimal(value, 1)} %"


def percent(ratio: float | None) -> str:
    """A share 0–1 in percent, whole numbers."""
    return not_applicable() if ratio is None else f"{decimal(100 * ratio, 0)} %"


def continuity(ratio: float | None) -> str:
    """A share 0–1 in percent, three decimals, cut and not rounded: what lost a second is never 100 %."""
    return not_applicable() if ratio is None else f"{decimal(math.floor(ratio * 100_000 + 1e-6) / 1000, 3)} %"


def figure(value: float | None) -> str:
    """A number to three figures that count: 0, 0.52, 5.24, 52.4, 524, 5,240."""
    if value is None or math.isnan(value):
        return not_applicable()
    if math.isinf(value):
        return say("without limit")
    if value == 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(abs(value))))
    return decimal(value, min(places, 2)) if abs(value) >= 0.01 else say("under {least}", least=decimal(0.01, 2))


def limits(low: float | None, high: float | None) -> str:
    """Limits as "2.1 to 9.4"."""
    if low is None or high is None:
        return not_applicable()
    return say("{low} to {high}", low=figure(low), high=figure(high))


def rate(value: Mapping[str, Any]) -> str:
    """A rate and its limits as "5.24 (2.1 to 9.4)"; "n/a" where there was no air."""
    if value["value"] is None:
        return not_applicable()
    return f"{figure(value['value'])} ({limits(value['low'], value['high'])})"


def chance(p: float) -> str:
    """A p-value as "p = 0.42", "p = 0.003" or "p below 0.001"."""
    if p < 0.001:
        return say("p below {least}", least=decimal(0.001, 3))
    return f"p = {decimal(p, 3 if p < 0.01 else 2)}"


def counted(number: int, one: str, many: str | None = None) -> str:
    """ "3 switches", "1 switch", "0 switches"."""
    return say_counted(f"{{n}} {one}", f"{{n}} {many or one + 's'}", number)


def spoken(number: int, one: str, many: str | None = None) -> str:
    """As ``counted``, in English in words up to twelve: "three switches", "no switches"."""
    if number >= len(SMALL) or spoken_language().tag != SOURCE:
        return counted(number, one, many)
    return f"{SMALL[number]} {one if number == 1 else many or one + 's'}"


def times(number: int) -> str:
    """ "never", "once", "twice", "three times"."""
    if number > 2:
        return spoken(number, "time")
    return (say("never"), say("once"), say("twice"))[number]


def needed(asked: int, met: int) -> str:
    """ "needed twice and met the need once", "needed once and never met the need"."""
    if not met:
        return say("needed {times} and never met the need", times=times(asked))
    return say("needed {times} and met the need {met}", times=times(asked), met=times(met))


def listed(parts: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(parts) < 2:
        return "".join(parts)
    return say("{parts} and {last}", parts=", ".join(parts[:-1]), last=parts[-1])


def within(seconds: float | None) -> str:
    """The ± of an instant: "± 0.4 s", or "± not known"."""
    return f"± {duration(seconds)}"


def capital(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]
