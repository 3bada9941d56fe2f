"""Labels and frame counts of SMPTE ST 12-1 time code, in exact ratios, and the time of day that a label stands for.

A drop-frame label follows the clock: its time of day is its frame count over the exact rate, 86.4 ms short of the clock
at the end of a day. A non-drop label at a rate such as 30000/1001 does not: its counter runs 3.6 s an hour behind the
clock from wherever it was set, and the label does not say where that was. Dividing its count by the rate would be right
only for a counter set to zero at midnight, and would put the last 86 s of labels into the next day; so the label is
read as the clock face that it shows, seconds from hh:mm:ss and ff in the nominal rate. What remains is the slow running
of that machine's clock (1000/1001, about -999 ppm), which is judged against the house's clock like any other's.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil
from typing import TypeVar

import polars as pl

LABEL = re.compile(r"([0-9]{2}):([0-9]{2}):([0-9]{2})([:;,])([0-9]{2,3})", re.ASCII)
DAY_US = 86_400_000_000
Count = TypeVar("Count", int, pl.Expr)


@dataclass(frozen=True)
class Counting:
    """How labels count: ``nominal`` frames a labelled second; ``skipped`` labels at each minute but every tenth."""

    nominal: int
    skipped: int

    @property
    def per_minute(self) -> int:
        """Frames in a minute that skips labels."""
        return self.nominal * 60 - self.skipped

    @property
    def per_ten_minutes(self) -> int:
        """Frames in ten minutes, of which nine skip labels."""
        return self.nominal * 600 - 9 * self.skipped

    @property
    def per_day(self) -> int:
        """Labels in a day: 2,589,408 in drop-frame at 30000/1001."""
        return 144 * self.per_ten_minutes


@lru_cache(maxsize=100)
def counting_of(rate: Fraction, *, is_drop: bool) -> Counting | None:
    """How labels count at ``rate`` frames per second; None for drop-frame at a rate that has none.

    Drop-frame exists at 30000/1001, two labels a minute, and in proportion at its multiples such as 60000/1001.
    """
    nominal = ceil(rate)
    if not is_drop:
        return Counting(nominal, 0)
    has_drop = nominal > 0 and nominal % 30 == 0 and rate == Fraction(nominal * 1000, 1001)
    return Counting(nominal, nominal // 15) if has_drop else None


def frame_number(label: str, rate: Fraction) -> int:
    """Frames from 00:00:00:00 to ``label``, hh:mm:ss:ff, or hh:mm:ss;ff (also with a comma) in drop-frame.

    Raises:
        ValueError: no label, or one that does not exist at ``rate`` (frames per second).
    """
    parts = LABEL.fullmatch(label)
    counting = counting_of(rate, is_drop=parts[4] != ":") if parts else None
    if parts is None or counting is None:
        raise ValueError(f'"{label[:20]}" is no time code label at {rate} frames per second.')
    hours, minutes, seconds, frames = (int(parts[k]) for k in (1, 2, 3, 5))
    is_face = hours < 24 and minutes < 60 and seconds < 60 and frames < counting.nominal
    if not is_face or (seconds == 0 and minutes % 10 and frames < counting.skipped):
        raise ValueError(f'The time code label "{label}" does not exist at {rate} frames per second.')
    return _count(hours * 60 + minutes, seconds, frames, counting)


def label_of(frame: int, rate: Fraction, *, is_drop: bool) -> str:
    """The label of frame ``frame``, counted from 0 at 00:00:00:00; the inverse of ``frame_number``.

    Raises:
        ValueError: not a frame of one day, or no drop-frame counting at ``rate``.
    """
    counting = counting_of(rate, is_drop=is_drop)
    if counting is None or not 0 <= frame < counting.per_day:
        raise ValueError(f"{frame} is not a frame of one day of {'drop-frame ' if is_drop else ''}labels at {rate}.")
    tens, rest = divmod(frame, counting.per_ten_minutes)
    # The first minute of ten is longer, as it skips nothing; in the others the skipped labels are added back.
    ones = max(0, rest - counting.skipped) // counting.per_minute
    minutes, within = tens * 10 + ones, rest - ones * counting.per_minute
    seconds, frames = divmod(within, counting.nominal)
    mark = ";" if is_drop else ":"
    return f"{minutes // 60:02}:{minutes % 60:02}:{seconds:02}{mark}{frames:02}"


def clock_of_labels(
    hours: pl.Expr, minutes: pl.Expr, seconds: pl.Expr, frames: pl.Expr, *, is_drop: pl.Expr, rate: Fraction
) -> pl.Expr:
    """Microseconds after midnight of each label, rounded; null where the label does not exist at ``rate``.

    Hours from 24 on are those of the next day's labels. Drop-frame: count over ``rate``. Non-drop: the face shown; the
    reason stands at the head of this module.
    """
    plain = counting_of(rate, is_drop=False)
    drop = counting_of(rate, is_drop=True)
    assert plain is not None  # noqa: S101 - every rate counts plainly
    part = (frames * 2_000_000 + plain.nominal) // (2 * plain.nominal)
    face = ((hours * 60 + minutes) * 60 + seconds) * 1_000_000 + part
    exists = frames < plain.nominal
    if drop is None:
        return pl.when(~is_drop & exists).then(face)
    counted = _count((hours % 24) * 60 + minutes, seconds, frames, drop)
    scale = 1_000_000 * rate.denominator
    by_count = (counted * (2 * scale) + rate.numerator) // (2 * rate.numerator) + hours // 24 * DAY_US
    is_skipped = is_drop & (seconds == 0) & (minutes % 10 != 0) & (frames < drop.skipped)
    return pl.when(exists & ~is_skipped).then(pl.when(is_drop).then(by_count).otherwise(face))


def _count(minutes: Count, seconds: Count, frames: Count, counting: Counting) -> Count:
    """ST 12-1: labels before it as if none were skipped, less those skipped in ``minutes`` since midnight."""
    return (minutes * 60 + seconds) * counting.nominal + frames - (minutes - minutes // 10) * counting.skipped
