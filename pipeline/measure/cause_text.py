"""Turns an engineer's note into clauses of plain words, so that the word list need not know every way of writing one.

Kept to what can be explained beside a guess: short forms written out, hyphens dropped, and misspellings put right only
where one known word is near enough.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

CLAUSE_END = re.compile(r"[;:!?()\[\]\n,]|\.(?=\s|$)|\.(?=[a-z])|(?:^|\s)[-–—>+]+(?=\s|$)")
WORD = re.compile(r"[^\W_]+(?:['’/&.-][^\W_]+)*")
ENDINGS = ("s", "d", "ed", "ing", "er")
INNER = re.compile(r"['’-]")


@dataclass(frozen=True)
class Word:
    """A word as it is looked up, and as it was written."""

    plain: str
    written: str


@dataclass
class Spelling:
    """Known words, and stems that take any ending, by which misspelt ones are put right.

    `settled` keeps what was decided.
    """

    whole: frozenset[str]
    stems: frozenset[str]
    left_alone: frozenset[str]
    settled: dict[str, str] = field(default_factory=dict)

    def correct(self, word: str) -> str:
        """The nearest known word or stem of the same first letter: one slip up to six letters, two above.

        Else the word itself, and always so with three letters or fewer, with a digit, or if it is known or left alone.
        Of two as near the longer, since letters are left out more often than put in.
        """
        if word not in self.settled:
            self.settled[word] = self._nearest(word)
        return self.settled[word]

    def _nearest(self, word: str) -> str:
        if len(word) < 4 or not word.isalpha() or word in self.whole or word in self.left_alone:
            return word
        if any(word.startswith(stem) for stem in self.stems):
            return word
        best = (3, -99, word)
        for other in self.whole:
            best = min(best, _nearness(word, other))
        bare = {word, *(word[: -len(ending)] for ending in ENDINGS if word.endswith(ending))}
        for stem in self.stems:
            for form in bare:
                best = min(best, _nearness(form, stem))
        return best[2]


def _nearness(word: str, known: str) -> tuple[int, int, str]:
    if len(known) < 4 or known[0] != word[:1]:
        return 3, 0, known
    distance = edit_distance(word, known, 1 if len(known) <= 6 else 2)
    return 3 if distance is None else distance, -len(known), known


def edit_distance(one: str, other: str, limit: int) -> int | None:
    """Letters put in, left out, changed or swapped with their neighbour to turn one into the other; None above `limit`.

    Damerau's distance in its restricted form (optimal string alignment), on the band the limit leaves.
    """
    if abs(len(one) - len(other)) > limit:
        return None
    far = limit + 1
    before: list[int] = []
    row = [min(j, far) for j in range(len(other) + 1)]
    for i, letter in enumerate(one, 1):
        last, before, row = before, row, [min(i, far)] + [far] * len(other)
        for j in range(max(1, i - limit), min(len(other), i + limit) + 1):
            row[j] = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != other[j - 1]), far)
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == other[j - 1]:
                row[j] = min(row[j], last[j - 2] + 1)
        if min(row) >= far:
            return None
    return row[-1] if row[-1] <= limit else None


def split_clauses(
    text: str, *, short_forms: Mapping[str, str], ends_clause: Iterable[str], spelling: Spelling
) -> list[list[Word]]:
    """Clauses of a note in order, each of one word or more; lower case, short forms written out, spelling put right."""
    enders = frozenset(ends_clause)
    clauses: list[list[Word]] = [[]]
    for piece in CLAUSE_END.split(text.lower().replace("\r", "\n")):
        clauses.append([])
        for word in _words(piece, short_forms, spelling):
            if word.plain in enders:
                clauses.append([])
            else:
                clauses[-1].append(word)
    return [clause for clause in clauses if clause]


def _words(piece: str, short_forms: Mapping[str, str], spelling: Spelling) -> Iterator[Word]:
    for written in WORD.findall(piece):
        joined = INNER.sub("", written)
        parts = [short_forms.get(written) or short_forms.get(joined) or joined]
        if parts == [joined] and "/" in joined:
            parts = [short_forms.get(part, part) for part in joined.split("/")]
        for part in parts:
            for plain in part.split():
                yield Word(plain if " " in part else spelling.correct(plain), written)
