"""What a room's own words mean in ours: those that are near a known phrase are proposed, all others are asked about."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from pipeline.ingest.propose.phrasebook import fold, is_misspelled, phrasebook

MOST_WORDS = 300  # distinct values of a column that are listed
LONGEST_WORD = 120  # characters; what is longer is a text, not a word
SHARED_BY = 3  # distinct unknown words that begin alike, from which they are told by their beginning
MOST_BEGINNINGS = 40
BEGINNING = re.compile(r"[^\W\d_]+(?: [^\W\d_]+(?=[ :=]|$)){0,2}")


@dataclass(frozen=True)
class Meaning:
    """What one word may mean: ``ours`` if it is proposed, else empty; ``why`` the reason, or what it may be near to."""

    ours: str
    why: str


@dataclass(frozen=True)
class WordLine:
    """One word of theirs, the rows that have it, and what it may mean."""

    theirs: str
    row_count: int
    meaning: Meaning


@dataclass(frozen=True)
class WordTable:
    """The words of one column: those that need no line are only counted. ``begins`` has rows by beginning.

    Words not known that differ in their numbers only are told by their beginning, in small letters.
    """

    column: str
    lines: tuple[WordLine, ...]
    as_ours_count: int
    left_out_count: int
    begins: tuple[tuple[str, int], ...] = ()

    @property
    def unknown(self) -> tuple[WordLine, ...]:
        """The words whose meaning is not known."""
        return tuple(line for line in self.lines if not line.meaning.ours)


def propose_words(column: str, counts: Mapping[str, int]) -> WordTable:
    """Ours for each word of theirs in ``counts``, rows by word; ``column`` is one of ours that has words.

    Words that are ours to the letter need no line. Of more than 300 distinct words the rest is only counted.
    """
    ours = phrasebook().words[column]
    foreign = {word: count for word, count in counts.items() if word not in ours}
    ranked = sorted(foreign.items(), key=lambda pair: (-pair[1], pair[0]))
    short = [pair for pair in ranked if len(pair[0]) <= LONGEST_WORD]
    lines = tuple(WordLine(word, count, meaning_of(word, column)) for word, count in short[:MOST_WORDS])
    begins = _beginnings([line for line in lines if not line.meaning.ours])
    if begins:
        lines = tuple(line for line in lines if line.meaning.ours or _beginning(line.theirs) not in dict(begins))
    return WordTable(column, lines, len(counts) - len(foreign), max(0, len(ranked) - MOST_WORDS), begins)


def _beginnings(unknown: Sequence[WordLine]) -> tuple[tuple[str, int], ...]:
    """Rows by beginning, of those that several unknown words have with different numbers behind, the commonest 40."""
    rows: Counter[str] = Counter()
    words: Counter[str] = Counter()
    for line in unknown:
        beginning = _beginning(line.theirs)
        if beginning and any(map(str.isdigit, line.theirs)):
            rows[beginning] += line.row_count
            words[beginning] += 1
    shared = [pair for pair in rows.items() if words[pair[0]] >= SHARED_BY]
    return tuple(sorted(shared, key=lambda pair: (-pair[1], pair[0]))[:MOST_BEGINNINGS])


def _beginning(text: str) -> str:
    """The words before the first digit, colon or equals sign, at most three, in small letters."""
    match = BEGINNING.match(text)
    return match[0].rstrip().lower() if match else ""


def known_share(column: str, counts: Mapping[str, int]) -> float:
    """Share of the rows whose word is ours or proposed as ours, 0 to 1; of the commonest 300 words."""
    total = sum(counts.values())
    ranked = sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))[:MOST_WORDS]
    known = sum(count for word, count in ranked if len(word) <= LONGEST_WORD and meaning_of(word, column).ours)
    return known / total if total else 0.0


@lru_cache(maxsize=10_000)
def meaning_of(word: str, column: str) -> Meaning:
    """What ``word`` means in our ``column``. It is proposed only where one of ours is near, and no other as near."""
    folded = fold(word)
    words = phrasebook().words[column]
    for ours, phrases in words.items():
        if folded in phrases or folded.replace(" ", "") in {phrase.replace(" ", "") for phrase in phrases}:
            return Meaning(ours, f'known phrase for "{ours}"')
    slips = {ours: phrase for ours, phrases in words.items() for phrase in phrases if is_misspelled(folded, phrase)}
    if len(slips) == 1:
        ours, phrase = next(iter(slips.items()))
        return Meaning(ours, f'near "{_written(phrase)}"')
    return _holding(folded, words) if not slips else Meaning("", f"may be {' or '.join(slips)}")


def _holding(folded: str, words: Mapping[str, tuple[str, ...]]) -> Meaning:
    """The meaning of a longer phrase that holds a known one: proposed if nothing else in it says anything."""
    held = {ours: phrase for ours, phrases in words.items() for phrase in _held(folded, phrases)}
    if not held:
        return Meaning("", "")
    longest = max(len(phrase.split()) for phrase in held.values())
    best = {ours: phrase for ours, phrase in held.items() if len(phrase.split()) == longest}
    if len(best) > 1:
        return Meaning("", f"may be {' or '.join(sorted(best))}")
    ours, phrase = next(iter(best.items()))
    rest = [token for token in folded.split() if token not in phrase.split()]
    says_nothing = all(token in phrasebook().passed_over for token in rest)
    is_turned = any(token in phrasebook().turned_by for token in rest)
    if says_nothing and not is_turned:
        return Meaning(ours, f'holds "{_written(phrase)}"')
    return Meaning("", "" if is_turned else f'holds "{_written(phrase)}"; is it {ours}?')


def _held(folded: str, phrases: tuple[str, ...]) -> list[str]:
    """The longest of ``phrases`` that stands in ``folded`` as whole words, if any."""
    padded = f" {folded} "
    found = [phrase for phrase in phrases if f" {phrase} " in padded]
    return [max(found, key=lambda phrase: len(phrase.split()))] if found else []


def _written(phrase: str) -> str:
    return phrasebook().written.get(phrase, phrase)
