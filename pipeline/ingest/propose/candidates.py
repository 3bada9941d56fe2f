"""What may be one of our columns: each of theirs, and each pair of a date and a time of day that belong together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pipeline.ingest.feeds import EXPORTED
from pipeline.ingest.propose.phrasebook import NAMED, fold, likeness, phrasebook
from pipeline.ingest.propose.traits import Traits

PLAIN = ""  # what is left of a name such as "Date" or "Uhrzeit"


@dataclass(frozen=True)
class Candidate:
    """Their columns ``places`` that together may be one of ours: one of them, or a date and then its time of day.

    ``traits`` are those of the last; ``names`` the folded names by which it may be known.
    """

    places: tuple[int, ...]
    traits: Traits
    names: tuple[str, ...]
    headers: tuple[str, ...]

    @property
    def why(self) -> str:
        """Why two columns are taken together."""
        return "a date and its time of day" if len(self.places) > 1 else ""


def find_candidates(columns: Sequence[Traits]) -> list[Candidate]:
    """All candidates; times of day that have a date column of their own stand with it only."""
    days = [column for column in columns if column.is_day]
    paired = {clock.place: day for clock in columns if clock.is_clock for day in _day_of(clock, days, columns)}
    return [_alone(column) for column in columns if column.place not in paired] + [
        _pair(paired[column.place], column) for column in columns if column.place in paired
    ]


def _alone(column: Traits) -> Candidate:
    return Candidate((column.place,), column, tuple(names_of(column.header)), (column.header,))


def _pair(day: Traits, clock: Traits) -> Candidate:
    """The pair is known by the name of its time of day, or by its date's if the other says no more than "time"."""
    own, stem = fold(clock.header), _stem(clock.header, "clock")
    names = [own, f"{fold(day.header)} {own}"] if stem != PLAIN else []
    if stem in {PLAIN, _stem(day.header, "day")}:
        names += [*names_of(day.header), _stem(day.header, "day"), "date time"]
    return Candidate((day.place, clock.place), clock, tuple(filter(None, names)), (day.header, clock.header))


def names_of(header: str) -> Iterator[str]:
    """The folded header, and of one such as ``vt@1.tension`` what follows the last point."""
    yield fold(header)
    if "." in header.strip("."):
        yield fold(header.rpartition(".")[2])


def _day_of(clock: Traits, days: Sequence[Traits], columns: Sequence[Traits]) -> Iterator[Traits]:
    """The date column that a time of day belongs to: of the same name, the only one, or the one just before it."""
    stem = _stem(clock.header, "clock")
    same = [day for day in days if _stem(day.header, "day") == stem]
    if len(same) == 1:
        yield same[0]
    elif len(days) == 1 and _is_of_all(days[0]):
        yield days[0]
    elif stem == PLAIN and any(day.place == clock.place - 1 for day in days):
        yield columns[clock.place - 1]


def _is_of_all(day: Traits) -> bool:
    """Whether a date may be that of several times: it is not named like one time of ours, as "Opened" is."""
    own = [
        phrases
        for feed in EXPORTED
        for column in feed.columns
        if column.kind == "time" and column.name != "at"
        for phrases in [phrasebook().columns[feed.name][column.name]]
    ]
    return all(likeness(name, phrases)[0] < NAMED for name in names_of(day.header) for phrases in own)


def _stem(header: str, kind: str) -> str:
    words = phrasebook().time_words[kind]
    return " ".join(word for word in fold(header).split() if word not in words)
