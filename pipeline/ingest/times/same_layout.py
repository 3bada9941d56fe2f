"""Reads a column of ISO 8601 stamps that are all written alike, as nearly every logger writes them, digit by digit.

What is not written like the others is left to the readers that know every spelling; so is all that is no date.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

LAYOUT = re.compile(
    r"(?:19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}[T ](?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]"
    r"(?:\.(?P<fraction>[0-9]{1,6}))?(?P<ending>Z|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])?",
    re.ASCII,
)
USUAL = f"^(?:{LAYOUT.pattern.replace('?P<fraction>', '').replace('?P<ending>', '')})$"
TRIED = 8  # stamps looked at for one that shows the layout
FIRST_YEAR, YEARS = 1900, 300
DAY_S, DAY_US = 86_400, 86_400_000_000
WHOLE = 19  # letters up to the second
DIGITS = (0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18)
MONTHS = np.arange(f"{FIRST_YEAR}-01", f"{FIRST_YEAR + YEARS + 1}-01", dtype="datetime64[M]")
FIRST_DAYS = MONTHS.astype("datetime64[D]").astype(np.int32)  # of each month, days since 1970
LENGTHS = np.diff(FIRST_DAYS, append=FIRST_DAYS[-1] + 31)

Flags = npt.NDArray[np.bool_]
Whole = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Walls:
    """The wall times of a column, one a text; where ``is_read`` is false the text is null or written otherwise.

    ``wall_us`` counts from 1970 as written, ``day`` the days of that; ``digits`` of the second's fraction, ``ending``
    ("", "Z" or an offset) and ``letter`` ("T" or a space) are those of all.
    """

    wall_us: Whole
    day: npt.NDArray[np.int32]
    is_read: Flags
    digits: int
    ending: str
    letter: str

    def texts(self, chosen: Whole) -> pl.Series:
        """The ``chosen`` stamps as they are written; all of them must have been read."""
        wall = pl.Series(self.wall_us[chosen]).cast(pl.Datetime("us"))
        texts = wall.dt.strftime(f"%Y-%m-%d{self.letter}%H:%M:%S")
        if self.digits:
            texts += "." + wall.dt.strftime("%6f").str.head(self.digits)
        return texts + self.ending if self.ending else texts


def walls_by_layout(texts: pl.Series) -> Iterator[tuple[Whole, Walls]]:
    """The stamps of ``texts`` that have a usual ISO spelling, all that are spelled alike at once, with their places.

    Each text that has one comes once, where ``is_read`` is true.
    """
    places: Whole = np.arange(texts.len())
    while places.size:
        some = texts if places.size == texts.len() else texts.gather(places)
        walls = read_walls(some)
        if walls is not None and walls.is_read.any():
            yield places, walls
            places = places[~walls.is_read]
            continue
        is_usual = some.str.contains(USUAL).fill_null(value=False).to_numpy(writable=True)
        if walls is not None:  # the first are dates that no calendar has
            is_usual[:TRIED] = False
        if is_usual.all():
            return
        places = places[is_usual]


def read_walls(texts: pl.Series) -> Walls | None:
    """The texts that are written as one of the first is; None if none of the first few is a usual ISO stamp."""
    layout = next((found for text in texts.head(TRIED).drop_nulls() if (found := LAYOUT.fullmatch(text))), None)
    if layout is None:
        return None
    shown = layout[0]
    is_long = (texts.str.len_bytes() == len(shown)).fill_null(value=False)
    chosen = texts if is_long.all() else texts.filter(is_long)
    letters = np.frombuffer(chosen.str.join("").item().encode(), np.uint8).reshape(-1, len(shown))
    day, clock_us, is_time = _read_letters(np.ascontiguousarray(letters.T), shown, layout["fraction"] or "")
    is_read = is_long.to_numpy().copy()
    days, walls = np.zeros(texts.len(), np.int32), np.zeros(texts.len(), np.int64)
    days[is_read], walls[is_read] = day, day.astype(np.int64) * (DAY_S * 1_000_000) + clock_us
    is_read[is_read] = is_time
    return Walls(walls, days, is_read, len(layout["fraction"] or ""), layout["ending"] or "", shown[10])


def walls_like(shown: str, wall_us: Whole) -> Walls:
    """Wall times that were written as ``shown`` is, a usual ISO stamp."""
    layout = LAYOUT.fullmatch(shown)
    if layout is None:
        raise ValueError(shown)
    day = (wall_us // DAY_US).astype(np.int32)
    digits, ending = len(layout["fraction"] or ""), layout["ending"] or ""
    return Walls(wall_us, day, np.ones(day.size, bool), digits, ending, shown[10])


def layout_of(stamp: str) -> tuple[int, str, str] | None:
    """What stamps written alike share: length, the letter between date and time, how they end; None of no usual one."""
    layout = LAYOUT.fullmatch(stamp)
    return (len(stamp), stamp[10], layout["ending"] or "") if layout else None


def digit_places(shown: str) -> tuple[int, ...]:
    """Where stamps written as ``shown`` is may have other digits than it has; an offset is the same in all."""
    layout = LAYOUT.fullmatch(shown)
    count = len(layout["fraction"] or "") if layout else 0
    return (*DIGITS, *range(WHOLE + 1, WHOLE + 1 + count))


def hours_from(letters: npt.NDArray[np.uint8]) -> tuple[Whole, Flags]:
    """Microseconds since 1970 at the beginning of hours, and whether they are hours of a day that there is.

    A row of ``letters`` is a place of the stamp, up to its hour; digits stand where they should.
    """
    digits = letters - np.uint8(48)
    day, is_day = _days(digits)
    hour = _pair(digits, 11)
    return day.astype(np.int64) * DAY_US + hour.astype(np.int64) * 3_600_000_000, is_day & (hour < 24)


def _read_letters(
    letters: npt.NDArray[np.uint8], shown: str, fraction: str
) -> tuple[npt.NDArray[np.int32], Whole, Flags]:
    """Day, microseconds of the day, and whether it is a time written as ``shown``; a row a place, a column a text."""
    places = digit_places(shown)
    is_time = np.ones(letters.shape[1], bool)
    for place, letter in enumerate(shown):
        if place not in places:
            is_time &= letters[place] == ord(letter)
    digits = letters - np.uint8(48)  # what is no digit wraps to more than 9
    for place in places:
        is_time &= digits[place] <= 9
    day, is_day = _days(digits)
    hour, minute, second = (_pair(digits, place) for place in (11, 14, 17))
    is_time &= is_day & (hour < 24) & (minute < 60) & (second < 60)
    micros = np.zeros(day.size, np.int32)
    for place in places[len(DIGITS) :]:
        micros = micros * 10 + digits[place]
    micros *= 10 ** (6 - len(fraction))
    return day, (hour * 3600 + minute * 60 + second).astype(np.int64) * 1_000_000 + micros, is_time


def _days(digits: npt.NDArray[np.uint8]) -> tuple[npt.NDArray[np.int32], Flags]:
    year = _pair(digits, 0) * 100 + _pair(digits, 2)
    month, day = _pair(digits, 5), _pair(digits, 8)
    is_month = (year >= FIRST_YEAR) & (year < FIRST_YEAR + YEARS) & (month >= 1) & (month <= 12)
    place = np.where(is_month, (year - FIRST_YEAR) * 12 + month - 1, 0)
    is_day = is_month & (day >= 1) & (day <= LENGTHS[place])
    return (FIRST_DAYS[place] + day - 1).astype(np.int32), is_day


def _pair(digits: npt.NDArray[np.uint8], place: int) -> npt.NDArray[np.int32]:
    pair: npt.NDArray[np.int32] = digits[place].astype(np.int32) * 10 + digits[place + 1]
    return pair
