"""Finds the turns of phrase of a word list in a clause, many lines at once.

Thousands of lines are held against every clause of every ticket, so they are looked up by the words that open them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from pipeline.measure.cause_text import Word

Alternatives = frozenset[str]  # of one word; an asterisk at the end stands for any ending
Phrase = tuple[Alternatives, ...]
Item = tuple[Phrase, ...]
Line = tuple[Item, ...]  # every item must be found in the clause
Places = frozenset[int]


def parse_line(text: str) -> Line:
    """`a b|c + d/e*`: items at +, turns of phrase at |, words at blanks, and one word's alternatives at /."""
    return tuple(
        tuple(tuple(frozenset(word.split("/")) for word in phrase.split()) for phrase in item.split("|"))
        for item in text.split(" + ")
    )


def vocabulary(line: Line) -> Iterator[str]:
    """All words of a line, with their asterisks."""
    for item in line:
        for phrase in item:
            for alternatives in phrase:
                yield from alternatives


@dataclass(frozen=True)
class Match:
    """A line found in a clause, and the places of its words there."""

    line: int
    places: Places


class Patterns:
    """Lines of the word list, by the words that can open their phrases."""

    def __init__(self, lines: Sequence[Line]) -> None:
        """Take lines in the order by which matches number them."""
        numbers: dict[Phrase, int] = {}
        self._items = [
            [[numbers.setdefault(phrase, len(numbers)) for phrase in item] for item in line] for line in lines
        ]
        self._phrases = list(numbers)
        opened: dict[str, list[int]] = defaultdict(list)
        for phrase, number in numbers.items():
            for word in phrase[0]:
                opened[word].append(number)
        self._opened: Mapping[str, list[int]] = dict(opened)
        self._opened_by: dict[str, tuple[int, ...]] = {}
        self._lines_of: dict[int, list[int]] = defaultdict(list)
        for line_number, items in enumerate(self._items):
            for phrase_number in items[0]:
                self._lines_of[phrase_number].append(line_number)

    def find(self, words: Sequence[Word], *, reach: int) -> list[Match]:
        """Lines that fit the clause, in order, wherever they start; `reach` words hold all items of a line."""
        spans = self._spans([word.plain for word in words])
        candidates = sorted({line for phrase in spans for line in self._lines_of.get(phrase, ())})
        return [Match(line, places) for line in candidates for places in self._fitting(self._items[line], spans, reach)]

    def _spans(self, words: list[str]) -> dict[int, list[Places]]:
        spans: dict[int, list[Places]] = {}
        for start, word in enumerate(words):
            for number in self._openings(word):
                phrase = self._phrases[number]
                end = start + len(phrase)
                if end <= len(words) and all(_fits(phrase[k], words[start + k]) for k in range(1, len(phrase))):
                    spans.setdefault(number, []).append(frozenset(range(start, end)))
        return spans

    def _openings(self, word: str) -> tuple[int, ...]:
        if word not in self._opened_by:
            keys = (word, *(word[:length] + "*" for length in range(1, len(word) + 1)))
            self._opened_by[word] = tuple(sorted({number for key in keys for number in self._opened.get(key, ())}))
        return self._opened_by[word]

    def _fitting(self, items: list[list[int]], spans: dict[int, list[Places]], reach: int) -> Iterator[Places]:
        by_item = [[span for phrase in item for span in spans.get(phrase, ())] for item in items]
        if not all(by_item):
            return
        for first in sorted(by_item[0], key=min):
            places: Places | None = first
            for found in by_item[1:]:
                places = _with_nearest(places, found, reach)
            if places is not None:
                yield places


def _with_nearest(places: Places | None, spans: list[Places], reach: int) -> Places | None:
    """The places and those of the nearest span that shares none of them, if `reach` words hold all; else None."""
    together = [places | span for span in spans if not places & span] if places else []
    best = min(together, key=lambda all_of: (max(all_of) - min(all_of), min(all_of)), default=None)
    return best if best is not None and max(best) - min(best) < reach else None


@cache
def _fits(alternatives: Alternatives, word: str) -> bool:
    return word in alternatives or any(each[-1] == "*" and word.startswith(each[:-1]) for each in alternatives)
