"""Reads the word list by which causes are guessed, and finds its turns of phrase in a clause.

The list is data so that a chief engineer can add the room's own words without touching the program.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.measure.cause_text import Spelling, Word, split_clauses

WORD_LIST = Path(__file__).with_name("cause_words.toml")
STRENGTHS = {"certain": 4.0, "strong": 3.0, "fair": 2.0, "weak": 1.0, "hint": 0.5}
SETTINGS = ("fields", "reading", "text", "short_forms", "plain_words", "marks", "ignored")

Alternatives = frozenset[str]  # of one word; an asterisk at the end stands for any ending
Phrase = tuple[Alternatives, ...]
Item = tuple[Phrase, ...]


@dataclass(frozen=True)
class Pattern:
    """A line of the word list: every item must be found in the clause."""

    items: tuple[Item, ...]

    def find(self, words: Sequence[Word]) -> frozenset[int] | None:
        """Places of the words that fit, or None."""
        places: set[int] = set()
        for item in self.items:
            found = next((span for span in _spans(item, words) if not places.intersection(span)), None)
            if found is None:
                return None
            places.update(found)
        return frozenset(places)

    def vocabulary(self) -> Iterator[str]:
        """All its words, with their asterisks."""
        for item in self.items:
            for phrase in item:
                for alternatives in phrase:
                    yield from alternatives


@dataclass(frozen=True)
class Patterns:
    """Lines of the word list, by the words that can open them, so that a clause is held against few of them."""

    lines: tuple[Pattern, ...]
    opened_by: dict[str, tuple[int, ...]]

    def found(self, words: Sequence[Word]) -> list[tuple[int, frozenset[int]]]:
        """Numbers of the lines that fit the clause, in order, with the places of their words."""
        numbers = {number for word in words for key in _keys(word.plain) for number in self.opened_by.get(key, ())}
        matches = ((number, self.lines[number].find(words)) for number in sorted(numbers))
        return [(number, places) for number, places in matches if places is not None]


@dataclass(frozen=True)
class Term:
    """A pattern and the cause it speaks for; an empty `top` speaks for none and only hides shorter findings."""

    top: str
    second: str
    strength: float


@dataclass(frozen=True)
class Lexicon:
    """The word list, ready to use. `order` keeps the taxonomy as the file lists it."""

    terms: tuple[Term, ...]  # one for each line of term_lines
    term_lines: Patterns
    marks: dict[str, Patterns]
    filler: frozenset[str]
    field_weights: dict[str, float]
    reading: dict[str, float]
    short_forms: dict[str, str]
    ends_clause: tuple[str, ...]
    spelling: Spelling
    order: tuple[tuple[str, str], ...]

    def clauses(self, text: str | None) -> list[list[Word]]:
        """Clauses of a note; none for an empty one."""
        return split_clauses(
            text or "", short_forms=self.short_forms, ends_clause=self.ends_clause, spelling=self.spelling
        )

    def found_terms(self, words: Sequence[Word]) -> list[tuple[Term, frozenset[int]]]:
        """Terms in a clause with the places of their words, except those that lie within a longer one."""
        found = self.term_lines.found(words)
        longest = [(number, places) for number, places in found if not any(places < other for _, other in found)]
        return [(self.terms[number], places) for number, places in longest if self.terms[number].top]

    def marked(self, kind: str, words: Sequence[Word]) -> frozenset[int] | None:
        """Places of the longest turn of phrase of one kind in a clause, or None."""
        found = [places for _, places in self.marks[kind].found(words)]
        return max(found, key=lambda places: (len(places), -min(places)), default=None)


@cache
def load_lexicon(path: Path = WORD_LIST) -> Lexicon:
    """The word list of a file, read once.

    Raises: OSError, tomllib.TOMLDecodeError or KeyError when the file is missing, broken or lacks a part.
    """
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    tops = {top: seconds for top, seconds in data.items() if top not in SETTINGS}
    told = [
        (_pattern(line), Term(top, second, STRENGTHS[strength]))
        for top, seconds in tops.items()
        for second, lists in seconds.items()
        for strength, lines in lists.items()
        for line in lines
    ]
    told += [(_pattern(line), Term("", "", 0.0)) for line in data["ignored"]["phrases"]]
    marks = {kind: _indexed([*map(_pattern, lines)]) for kind, lines in data["marks"].items() if kind != "filler"}
    return Lexicon(
        terms=tuple(term for _, term in told),
        term_lines=_indexed([line for line, _ in told]),
        marks=marks,
        filler=frozenset(data["marks"]["filler"]),
        field_weights=data["fields"],
        reading=data["reading"],
        short_forms=data["short_forms"],
        ends_clause=tuple(data["text"]["ends_clause"]),
        spelling=_spelling(data, [line for line, _ in told] + [line for each in marks.values() for line in each.lines]),
        order=tuple((top, second) for top, seconds in tops.items() for second in seconds),
    )


def _indexed(lines: Sequence[Pattern]) -> Patterns:
    opened_by: dict[str, tuple[int, ...]] = {}
    for number, line in enumerate(lines):
        for word in {word for phrase in line.items[0] for word in phrase[0]}:
            opened_by[word] = (*opened_by.get(word, ()), number)
    return Patterns(tuple(lines), opened_by)


def _spelling(data: dict[str, Any], lines: list[Pattern]) -> Spelling:
    words = {word for line in lines for word in line.vocabulary()}
    plain = data["plain_words"]["words"].split() + list(data["short_forms"]) + list(data["text"]["ends_clause"])
    return Spelling(
        whole=frozenset(word for word in words if not word.endswith("*")),
        stems=frozenset(word[:-1] for word in words if word.endswith("*")),
        left_alone=frozenset(plain) | frozenset(data["marks"]["filler"]),
    )


def _pattern(line: str) -> Pattern:
    """`a b|c + d/e*`: items at +, turns of phrase at |, words at blanks, and one word's alternatives at /."""
    return Pattern(
        tuple(
            tuple(tuple(frozenset(word.split("/")) for word in phrase.split()) for phrase in item.split("|"))
            for item in line.split(" + ")
        )
    )


def _spans(item: Item, words: Sequence[Word]) -> Iterator[range]:
    for phrase in item:
        for start in range(len(words) - len(phrase) + 1):
            if all(_fits(slot, words[start + k].plain) for k, slot in enumerate(phrase)):
                yield range(start, start + len(phrase))


@cache
def _keys(word: str) -> tuple[str, ...]:
    return word, *(word[:length] + "*" for length in range(1, len(word) + 1))


@cache
def _fits(alternatives: Alternatives, word: str) -> bool:
    return word in alternatives or any(each[-1] == "*" and word.startswith(each[:-1]) for each in alternatives)
