"""The contents that stand at the head of every page: the room, its months by year, and what all of it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.render.language import month_in_short, say
from pipeline.render.sheet import month_page
from pipeline.render.words import month_name


@dataclass(frozen=True)
class Entry:
    """A link of the contents: where to, what it reads, and what it is called where it reads short."""

    href: str
    text: str
    full: str = ""


@dataclass(frozen=True)
class Line:
    """A line of the contents: its name, and its entries under a year each, or under none."""

    name: str
    groups: tuple[tuple[str, tuple[Entry, ...]], ...]


def contents(months: Iterable[str], lines_front: str | None) -> tuple[Line, ...]:
    """The contents of a report with these ``months`` ("2031-03"); ``lines_front`` is None where there are no lists."""
    room = (
        Entry("index.html", say("Front page")),
        Entry("transports.html", say("Transports", about="contents")),
        Entry("find.html#machines", say("Machines", about="contents")),
        Entry("reels.html", say("Reels")),
        Entry("patterns.html", say("What comes back")),
        Entry("find.html", say("Find")),
    )
    ground = (
        *([Entry(lines_front, say("Lines"))] if lines_front else []),
        Entry("clocks.html", say("Clocks")),
        Entry("data-quality.html", say("Data quality")),
        Entry("definitions.html", say("Definitions")),
    )
    years = by_year(months)
    run = [Line(say("Month by month"), years)] if years else []
    return (Line(say("The room"), (("", room),)), *run, Line(say("What it rests on"), (("", ground),)))


def by_year(months: Iterable[str]) -> tuple[tuple[str, tuple[Entry, ...]], ...]:
    """Each year with its months in short, in order."""
    years: dict[str, list[Entry]] = {}
    for month in months:
        year, number = month.split("-")
        entry = Entry(month_page(month), month_in_short(int(year), int(number)), month_name(month))
        years.setdefault(year, []).append(entry)
    return tuple((year, tuple(entries)) for year, entries in years.items())
