"""Puts misspelt and shortened words right, so that a word list need not hold every way of writing its words.

A word is changed only toward a word of the list, only where one fits, and never if it is an ordinary word itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

ENDINGS = ("s", "d", "ed", "ing", "er", "ers", "es", "ly")
INFLECTIONS = ("s", "d", "ed", "ing", "es", "ly")
LONG_STEM = 5  # a stem so long is not met by chance: what it opens stands
FEW_SLIPS = 6  # up to so many letters one slip is put right, above two
VOWELS = re.compile(r"[aeiouy]")
LEFT_OUT = ((re.compile(r"(?<=.)[aeiouy]"), ""), (re.compile(r"ck"), "k"), (re.compile(r"ng\b"), "g"))
DOUBLED = re.compile(r"(.)\1")


@dataclass
class Spelling:
    """Known words, stems that take any ending, and ordinary words that are left alone; `settled` keeps decisions."""

    whole: frozenset[str]
    stems: frozenset[str]
    left_alone: frozenset[str]
    settled: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._by_letter: dict[str, list[str]] = {}
        self._by_skeleton: dict[str, set[str]] = {}
        for known in sorted(self.whole | self.stems):
            self._by_letter.setdefault(known[0], []).append(known)
        for word in self.whole | self.left_alone:
            self._by_skeleton.setdefault(skeleton(word), set()).add(word)
        for stem in self.stems:
            for ending in ("", *ENDINGS):
                self._by_skeleton.setdefault(skeleton(stem + ending), set()).add(stem)

    def correct(self, word: str) -> str:
        """The known word or stem that is meant.

        Left as it is: three letters or fewer, a digit in it, known, ordinary or an ordinary word's inflection. Else a
        word without some of its vowels ("clnd") or cut short ("azim") is the only known word that it can stand for;
        else the nearest of the same first letter, one slip away up to six letters, two above. Of two as near that of
        the same letters, then the longer, since letters are left out more often than put in.
        """
        if word not in self.settled:
            self.settled[word] = word if self._stands(word) else self._shortened(word) or self._nearest(word)
        return self.settled[word]

    def _stands(self, word: str) -> bool:
        if len(word) < 4 or not word.isalpha():
            return True
        if any(word.startswith(stem) for stem in self.stems if len(stem) >= LONG_STEM):
            return True
        if any(bare in self.stems for bare in _bare(word, ENDINGS)):
            return True
        return any(bare in self.whole or bare in self.left_alone for bare in _bare(word, INFLECTIONS))

    def _shortened(self, word: str) -> str | None:
        """What a shortened word stands for; the word itself if that is open; None if it is not a shortened one."""
        vowels = len(VOWELS.findall(word))
        meant = self._by_skeleton.get(skeleton(word), set()) if vowels < len(word) / 4 else set()
        meant = {known for known in meant if len(VOWELS.findall(known)) > vowels}
        if not meant and not VOWELS.search(word[-1]):
            every = self._by_letter.get(word[0], []) + sorted(self.left_alone)
            meant = {known for known in every if known.startswith(word)}
        shortest = min(meant, key=lambda known: (len(known), known), default="")
        return (shortest if all(known.startswith(shortest) for known in meant) else word) if meant else None

    def _nearest(self, word: str) -> str:
        best = (3, True, -99, word)
        if not VOWELS.search(word):  # an abbreviation, not a slip
            return word
        for known in self._by_letter.get(word[0], []):
            for form in _bare(word, ENDINGS) if known in self.stems else (word,):
                best = min(best, _nearness(form, known))
        return best[3]


def skeleton(word: str) -> str:
    """A word as note-takers shorten it: no vowels behind the first letter, "ck" as k, "ng" as g, no doubles."""
    for what, by in LEFT_OUT:
        word = what.sub(by, word)
    return DOUBLED.sub(r"\1", word)


def _bare(word: str, endings: Iterable[str]) -> list[str]:
    """The word, and without each ending it can have; of a doubled consonant before one of them, one."""
    bare = [word, *(word[: -len(ending)] for ending in endings if word.endswith(ending))]
    return bare + [form[:-1] for form in bare[1:] if len(form) > 3 and form[-1] == form[-2]]


def _nearness(word: str, known: str) -> tuple[int, bool, int, str]:
    """Slips between two words, then whether letters differ at all (swapping two is the commonest), then the length."""
    if len(known) < 4 or known[0] != word[:1]:
        return 3, True, 0, known
    distance = edit_distance(word, known, 1 if len(known) <= FEW_SLIPS else 2)
    return (3, True, 0, known) if distance is None else (distance, sorted(word) != sorted(known), -len(known), known)


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
