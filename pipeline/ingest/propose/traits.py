"""What the cells of one column look like, whatever its name: times, days, numbers, codes or text."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from pipeline.ingest.times.date_texts import MONTHS

MONTH = rf"(?i:{'|'.join(sorted(MONTHS, key=len, reverse=True))})\.?"
DAY = (
    r"(?:[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}|[0-9]{1,2}[-/.] ?[0-9]{1,2}[-/.] ?(?:[0-9]{4}|[0-9]{2})"
    rf"|(?:19|20|21)[0-9]{{6}}|[0-9]{{1,2}}[. -]{{1,2}}{MONTH}[. -]{{1,2}}[0-9]{{4}}|{MONTH} [0-9]{{1,2}},? [0-9]{{4}})"
)
WEEKDAY = r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]{0,6}[.,]? )?"
CLOCK = r"[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:[.,:;][0-9]{1,9})?)?(?: ?[AaPp]\.?[Mm]\.?)?"
DOTTED = r"[0-9]{1,2}\.[0-9]{2}(?:\.[0-9]{2})?"
OFFSET = r"(?: ?(?:Z|UTC|[+-][0-9]{2}(?::?[0-9]{2})?))?"
COMPACT = r"(?:19|20|21)[0-9]{6}T?[0-9]{4}(?:[0-9]{2}(?:[.,][0-9]{1,9})?)?"
MIDNIGHT = re.compile(rf"{DAY}[T ]00:00(?::00(?:[.,]0+)?)?")
KINDS = {
    "stamp": re.compile(rf"(?:{WEEKDAY}{DAY}(?:[T ]|, ?)(?:{CLOCK}|{DOTTED})|{COMPACT}){OFFSET}"),
    "yearless": re.compile(
        rf"{WEEKDAY}(?:{MONTH} {{1,2}}[0-9]{{1,2}}|[0-9]{{1,2}}[./][0-9]{{1,2}}\.?),? {CLOCK}{OFFSET}"
    ),
    "day": re.compile(DAY),
    "clock": re.compile(CLOCK + OFFSET),
    "number": re.compile(r"[+-]?(?:[0-9][0-9 .,'\u00a0\u202f]*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"),
    "code": re.compile(r"[^\W\d_]{1,12}[ _-]?[0-9]{1,3}[A-Za-z]?"),
}
OFFSET_WRITTEN = re.compile(rf"{CLOCK} ?(?:Z|UTC|[+-][0-9]{{2}}(?::?[0-9]{{2}})?)$")
MOST_DISTINCT = 2_000
LONGEST_VALUE = 60
NEARLY_ALL, MOST = 0.8, 0.5


@dataclass(frozen=True)
class Traits:
    """One column of a sample: its header, and what its recorded cells are.

    ``shares`` are of ``filled``, by kind: stamp, yearless, day, clock, number, code. ``counts`` has rows by value.
    """

    header: str
    place: int
    filled: int
    distinct: int
    counts: Counter[str]
    shares: dict[str, float]
    mean_length: float

    def share(self, *kinds: str) -> float:
        """Share of the recorded cells that are of one of ``kinds``."""
        return sum(self.shares.get(kind, 0.0) for kind in kinds)

    @property
    def is_day(self) -> bool:
        """Whether nearly all cells are dates without a time of day."""
        return self.share("day") >= NEARLY_ALL

    @property
    def is_clock(self) -> bool:
        """Whether nearly all cells are times of day without a date."""
        return self.share("clock") >= NEARLY_ALL


def describe(header: str, place: int, counts: Counter[str]) -> Traits:
    """The traits of a column from its recorded cells, rows by value."""
    filled = sum(counts.values())
    looked_at = counts.most_common(MOST_DISTINCT)
    total = sum(count for _, count in looked_at)
    kinds: Counter[str] = Counter()
    length = 0
    for value, count in looked_at:
        kinds[kind_of(value)] += count
        length += min(len(value), 10_000) * count
    if kinds["midnight"]:  # a workbook writes a bare date so; beside other times of day it is one
        kinds["stamp" if kinds["stamp"] else "day"] += kinds.pop("midnight")
    shares = {kind: count / total for kind, count in kinds.items()} if total else {}
    return Traits(header, place, filled, len(counts), counts, shares, length / total if total else 0.0)


@lru_cache(maxsize=50_000)
def _kind_of_short(value: str) -> str:
    if MIDNIGHT.fullmatch(value):
        return "midnight"
    return next((kind for kind, pattern in KINDS.items() if pattern.fullmatch(value)), "text")


def kind_of(value: str) -> str:
    """What one cell is: stamp, midnight, yearless, day, clock, number, code or text."""
    return _kind_of_short(value) if len(value) <= LONGEST_VALUE else "text"


def is_value(cell: str) -> bool:
    """Whether a cell is a time or a number, as no name of a column is."""
    return kind_of(cell.strip()) in {"stamp", "midnight", "yearless", "day", "clock", "number"}
