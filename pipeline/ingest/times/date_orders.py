"""Tells from a file's own times, and from its name, what its dates leave open: day before month or after, day and year.

A file is decided as a whole, from its first text that can be read in one order only, and never by what is likelier.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import islice
from pathlib import PurePosixPath

import polars as pl

from pipeline.ingest.times.date_texts import ORDERS, DateText, read_date
from pipeline.ingest.times.notations import cut_stamps, date_text

CHUNK = 100_000
IN_WORDS = {"ymd": "year, month, day", "dmy": "day, month, year", "mdy": "month, day, year"}
LONGEST_QUOTE = 40
# Years that a room has files of; other numbers in a name are no dates.
YEAR = r"(?:19[5-9][0-9]|20[0-9]{2}|21[0-4][0-9])"
DAY_IN_NAME = re.compile(
    rf"(?<![0-9])(?:{YEAR}([-_./ ])[0-9]{{2}}\1[0-9]{{2}}|[0-9]{{1,2}}([-_. ])[0-9]{{1,2}}\2{YEAR})(?![0-9])", re.ASCII
)
COMPACT_IN_NAME = re.compile(rf"(?<![0-9])({YEAR}[0-9]{{4}})(?:[0-9]{{4}}|[0-9]{{6}})?(?![0-9])", re.ASCII)
MONTH_IN_NAME = re.compile(rf"(?<![0-9])({YEAR})(?:[-_./ ](?:0[1-9]|1[0-2])|(?:0[1-9]|1[0-2]))(?![0-9])", re.ASCII)


@dataclass(frozen=True)
class Evidence:
    """A text that rules orders out: its line (or its place among the texts, from 1), and the orders it leaves."""

    line: int
    text: str
    orders: tuple[str, ...]


@dataclass(frozen=True)
class Decision:
    """In which order the dates of a file are written.

    ``order`` is None where its times do not tell. ``is_needed``: some time cannot be read without knowing the order.
    ``is_contradictory``: no one order reads them all. ``evidence``: each text that narrowed the choice, and at last the
    one that contradicts them. ``why`` is one sentence for a person; empty where nothing needs deciding.
    """

    order: str | None
    is_needed: bool
    is_contradictory: bool
    evidence: tuple[Evidence, ...]
    why: str


def decide_date_order(texts: Iterable[str | tuple[int, str]] | pl.Series) -> Decision:
    """The one order of dates in which every time among ``texts`` can be read, and what shows it.

    ``texts`` are times as written, or pairs of a line and such a text. Those that need no order say nothing about it:
    ISO 8601, a year of four digits in front, a month by name with such a year, equal numbers for day and month. Nor
    does what is no date in any order. All texts are looked at, so that a file that holds two orders is found out.
    """
    weighing = _Weighing()
    for chunk in _chunks(texts):
        for line, text, read in _distinct_dates(chunk, weighing.seen):
            weighing.weigh(line, text, read)
            if weighing.contradiction is not None:
                return weighing.decision()
    return weighing.decision()


@dataclass
class _Weighing:
    left: frozenset[str] = frozenset(ORDERS)
    seen: set[str] = field(default_factory=set)
    evidence: list[Evidence] = field(default_factory=list)
    unsettled: dict[frozenset[str], Evidence] = field(default_factory=dict)
    contradiction: Evidence | None = None
    short: Evidence | None = None

    def weigh(self, line: int, text: str, read: DateText) -> None:
        orders = frozenset(read.by_order)
        if read.is_plain or not orders:
            return
        here = Evidence(line, text, tuple(order for order in ORDERS if order in orders))
        if read.is_short and self.short is None:
            self.short = here
        if len(set(read.by_order.values())) == 1 and not read.is_short and len(orders) > 1:
            return  # 03/03/2031
        if not self.left & orders:
            self.contradiction = here
            return
        if not self.left <= orders:
            self.left &= orders
            self.evidence.append(here)
        for one in orders:
            for other in orders - {one}:
                if read.by_order[one] != read.by_order[other]:
                    self.unsettled.setdefault(frozenset((one, other)), here)

    def decision(self) -> Decision:
        """What was found in the texts so far."""
        shown = tuple(self.evidence)
        if self.contradiction is not None:
            shown = (*shown, self.contradiction)
            return Decision(None, True, True, shown, _why_contradictory(shown))
        is_needed = bool(self.unsettled) or self.short is not None
        open_between = [here for pair, here in self.unsettled.items() if pair <= self.left]
        if open_between:
            here = min(open_between, key=lambda each: each.line)
            orders = [order for order in here.orders if order in self.left]
            why = f"{_named(here)} may be {_in_words(orders)}, and none of its other times tells which."
            return Decision(None, True, False, shown, why)
        if not shown and self.short is None:
            return Decision(None, False, False, (), "")
        order = next(each for each in ("dmy", "mdy", "ymd") if each in self.left)
        decisive = shown[-1] if shown else self.short
        why = f"{_named(decisive)} tells: {_in_words([order])}." if decisive else ""
        return Decision(order, is_needed, False, shown, why)


def _why_contradictory(evidence: tuple[Evidence, ...]) -> str:
    """Names the two texts that contradict each other, or all where only all of them do."""
    last = evidence[-1]
    against = [each for each in evidence[:-1] if not set(each.orders) & set(last.orders)]
    told = [f"{_named(each)} is {_in_words(each.orders)}" for each in (*(against[:1] or evidence[:-1]), last)]
    return f"No one order of dates fits all: {', '.join(told)}."


def _named(evidence: Evidence) -> str:
    dots = "…" if len(evidence.text) > LONGEST_QUOTE else ""
    return f'"{evidence.text[:LONGEST_QUOTE]}{dots}" in line {evidence.line}'


def _in_words(orders: Iterable[str]) -> str:
    return " or ".join(f"{order} ({IN_WORDS[order]})" for order in orders)


def _chunks(texts: Iterable[str | tuple[int, str]] | pl.Series) -> Iterator[pl.DataFrame]:
    """Lines and texts, some thousands at a time."""
    if isinstance(texts, pl.Series):
        for start in range(0, texts.len(), CHUNK):
            chunk = texts.slice(start, CHUNK).rename("text").to_frame()
            yield chunk.select(pl.int_range(start + 1, start + 1 + chunk.height).alias("line"), "text").drop_nulls()
        return
    numbered = (each if isinstance(each, tuple) else (place, each) for place, each in enumerate(texts, start=1))
    while rows := list(islice(numbered, CHUNK)):
        yield pl.DataFrame(rows, schema={"line": pl.Int64, "text": pl.String}, orient="row")


def _distinct_dates(chunk: pl.DataFrame, seen: set[str]) -> Iterator[tuple[int, str, DateText]]:
    """Each date of the chunk that is not among ``seen``, with the first line and text that has it; adds it there."""
    first = chunk.hstack(cut_stamps(chunk["text"]).select("around")).unique("around", keep="first", maintain_order=True)
    for line, text, around in first.iter_rows():
        if around is not None and (dated := date_text(around)) not in seen:
            seen.add(dated)
            yield line, text, read_date(dated)


def day_in_name(name: str) -> date | None:
    """The one day that the name of a file (a path with "/") tells, as ``2031-03-09``, ``20310309`` or ``09-03-2031``.

    None where it tells none or several, or where day and month of the last form may be the other way round. The file's
    own name counts, and only where it tells nothing the folders: ``2031/03/09/vt1.log``.
    """
    for part in (PurePosixPath(name).name, name):
        found = _dates_in(part)
        if found:
            days = {day for each in found for day in each.by_order.values()}
            return days.pop() if len(days) == 1 else None
    return None


def year_in_name(name: str) -> int | None:
    """The one year that the name of a file tells, by a date as ``day_in_name`` has it, ``2031-03`` or ``203103``.

    None where it tells none or several. A year alone is not taken for one: machines and reels have such numbers too.
    """
    for part in (PurePosixPath(name).name, name):
        years = {day.year for each in _dates_in(part) for day in each.by_order.values()}
        years = years or {int(found[1]) for found in MONTH_IN_NAME.finditer(part)}
        if years:
            return years.pop() if len(years) == 1 else None
    return None


def _dates_in(text: str) -> list[DateText]:
    found = [match[0] for match in DAY_IN_NAME.finditer(text)]
    compact = [match[1] for match in COMPACT_IN_NAME.finditer(text)]
    read = [read_date(re.sub("[-_./ ]", "-", each)) for each in (*found, *compact)]
    return [each for each in read if each.by_order]
