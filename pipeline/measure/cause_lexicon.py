"""Reads the word list by which causes are guessed.

The list is data so that a chief engineer can add the room's own words without touching the program.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.measure.cause_patterns import Line, Patterns, Places, parse_line, vocabulary
from pipeline.measure.cause_spelling import Spelling
from pipeline.measure.cause_text import Word, letters_only, split_clauses

WORD_LIST = Path(__file__).with_name("cause_words.toml")
STRENGTHS = {"decisive": 6.0, "certain": 4.0, "strong": 3.0, "fair": 2.0, "weak": 1.0, "hint": 0.5}
SETTINGS = ("fields", "reading", "text", "short_forms", "plain_words", "marks", "ignored")


@dataclass(frozen=True)
class Term:
    """What a line of the word list speaks for: a cause, or with `mark` a turn of phrase that changes what others mean.

    With neither it speaks for nothing and only hides shorter findings.
    """

    top: str = ""
    second: str = ""
    strength: float = 0.0
    mark: str = ""


@dataclass(frozen=True)
class Found:
    """What was found in a clause: terms and marks with the places of their words, without those a longer one holds."""

    terms: tuple[tuple[Term, Places], ...]
    marks: dict[str, tuple[Places, ...]]

    def has(self, kind: str) -> bool:
        """Whether a turn of phrase of this kind stands in the clause."""
        return kind in self.marks

    def end_of(self, kind: str) -> int:
        """Number of words up to and with the last one of a kind; 0 if there is none."""
        return max((max(places) + 1 for places in self.marks.get(kind, ())), default=0)


@dataclass(frozen=True)
class Lexicon:
    """The word list, ready to use. `order` keeps the taxonomy as the file lists it."""

    terms: tuple[Term, ...]  # one for each line of patterns
    patterns: Patterns
    filler: frozenset[str]
    field_weights: dict[str, float]
    reading: dict[str, float]
    short_forms: dict[str, str]
    ends_clause: tuple[str, ...]
    told_only: frozenset[str]
    goes_on: frozenset[str]
    spelling: Spelling
    order: tuple[tuple[str, str], ...]
    names: dict[str, tuple[str, str]]  # letters of "second", "first second" or "first", and the cause they name

    def clauses(self, text: str | None) -> list[list[Word]]:
        """Clauses of a note; none for an empty one."""
        return split_clauses(
            text or "", short_forms=self.short_forms, ends_clause=self.ends_clause, spelling=self.spelling
        )

    def look(self, words: Sequence[Word]) -> Found:
        """All that stands in a clause."""
        found = self.patterns.find(words, reach=int(self.reading["reach"]))
        told = [match for match in found if not self.terms[match.line].mark]
        ignored = [match.places for match in told if not self.terms[match.line].top]
        terms = [
            (self.terms[match.line], match.places)
            for match in told
            if self.terms[match.line].top and not any(match.places < other.places for other in told)
        ]
        marks: dict[str, tuple[Places, ...]] = {}
        for match in found:
            kind = self.terms[match.line].mark
            if kind and not any(match.places < places for places in ignored):
                marks[kind] = (*marks.get(kind, ()), match.places)
        return Found(tuple(terms), marks)


@cache
def load_lexicon(path: Path = WORD_LIST) -> Lexicon:
    """The word list of a file, read once.

    Raises: OSError, tomllib.TOMLDecodeError or KeyError when the file is missing, broken or lacks a part.
    """
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    tops = {top: seconds for top, seconds in data.items() if top not in SETTINGS}
    told = [
        (parse_line(line), Term(top, second, STRENGTHS[strength]))
        for top, seconds in tops.items()
        for second, lists in seconds.items()
        for strength, lines in lists.items()
        for line in lines
    ]
    told += [(parse_line(line), Term()) for line in data["ignored"]["phrases"]]
    marks = {kind: lines for kind, lines in data["marks"].items() if kind != "filler"}
    told += [(parse_line(line), Term(mark=kind)) for kind, lines in marks.items() for line in lines]
    return Lexicon(
        terms=tuple(term for _, term in told),
        patterns=Patterns([line for line, _ in told]),
        filler=frozenset(data["marks"]["filler"]),
        field_weights=data["fields"],
        reading=data["reading"],
        short_forms=data["short_forms"],
        ends_clause=tuple(data["text"]["ends_clause"]),
        told_only=frozenset(data["text"]["told_only"]),
        goes_on=frozenset(data["text"]["goes_on"]),
        spelling=_spelling(data, [line for line, _ in told]),
        order=tuple((top, second) for top, seconds in tops.items() for second in seconds),
        names=_names(tops),
    )


def _names(tops: dict[str, Any]) -> dict[str, tuple[str, str]]:
    names = {letters_only(top): (top, "") for top in tops}
    for top, seconds in tops.items():
        for second in filter(None, seconds):
            names.setdefault(letters_only(second), (top, second))
            names[letters_only(top + second)] = (top, second)
    return names


def _spelling(data: dict[str, Any], lines: list[Line]) -> Spelling:
    words = {word for line in lines for word in vocabulary(line)}
    plain = data["plain_words"]["words"].split() + list(data["short_forms"]) + list(data["text"]["ends_clause"])
    return Spelling(
        whole=frozenset(word for word in words if not word.endswith("*")),
        stems=frozenset(word[:-1] for word in words if word.endswith("*")),
        left_alone=frozenset(plain) | frozenset(data["marks"]["filler"]),
    )
