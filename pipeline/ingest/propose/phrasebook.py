"""Phrases of the trade in several languages, and how alike two are, so that no name has to be equal to the letter."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from pipeline.ingest.feeds import EXPORTED

SOURCE = "synonyms.toml"
SOURCES = ("from_machine", "to_machine")  # of ours, which name a machine or one of these
NO_MACHINE = ("standby", "other")
LONGEST_PHRASE = 120  # characters of a name or a word that are compared
LETTERS = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "đ": "d", "ł": "l"})
CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
# How near names are that are not equal: in another order, part of a longer one, misspelled.
NAMED = 0.9  # likeness from which a column counts as named like ours
REORDERED, CONTAINED, MISSPELLED, LEAST_RATIO = 0.95, 0.9, 0.9, 82.0
# Misspellings let pass, by the length of the phrase; common practice, no source. Below five letters none: such words
# are codes, of which the neighbour is another code.
SHORTEST_MISSPELLED, LONG, MOST_SLIPS = 5, 7, 2


@dataclass(frozen=True)
class Phrasebook:
    """Folded phrases. ``columns`` by kind of feed and our column, ``words`` by our column and our word.

    ``written`` has each as the list spells it; ``says_nothing`` are whole cells, in small letters.
    """

    columns: dict[str, dict[str, tuple[str, ...]]]
    words: dict[str, dict[str, tuple[str, ...]]]
    kinds: dict[str, tuple[str, ...]]
    passed_over: frozenset[str]
    turned_by: frozenset[str]
    time_words: dict[str, frozenset[str]]
    written: dict[str, str]
    says_nothing: tuple[str, ...]


@lru_cache(maxsize=1)
def phrasebook() -> Phrasebook:
    """The phrases of ``synonyms.toml``, each of our own names and words among them."""
    given = tomllib.loads(files(__package__).joinpath(SOURCE).read_text(encoding="utf-8"))
    own_columns = {feed.name: [column.name for column in feed.columns] for feed in EXPORTED}
    own_words = {column.name: column.words for feed in EXPORTED for column in feed.columns if column.kind == "word"}
    own_words |= dict.fromkeys(SOURCES, NO_MACHINE)
    return Phrasebook(
        {kind: _folded(given["columns"][kind], names) for kind, names in own_columns.items()},
        {
            name: _folded(given["words"]["source" if name in SOURCES else name], words)
            for name, words in own_words.items()
        },
        _folded(given["kinds"], own_columns),
        frozenset(fold(word) for word in given["passed_over"]),
        frozenset(fold(word) for word in given["turned_by"]),
        {kind: frozenset(map(fold, words)) for kind, words in given["time_words"].items()},
        {
            fold(phrase): phrase
            for group in ("columns", "words")
            for table in given[group].values()
            for phrases in table.values()
            for phrase in phrases
        },
        tuple(given["says_nothing"]),
    )


def _folded(given: dict[str, Any], names: Any) -> dict[str, tuple[str, ...]]:
    return {name: tuple(dict.fromkeys(fold(phrase) for phrase in (name, *given.get(name, [])))) for name in names}


def fold(text: str) -> str:
    """``text`` in small letters without accents, words parted by one space: ``FromMachine`` is ``from machine``."""
    parted = CAMEL.sub(" ", text[:LONGEST_PHRASE])
    plain = unicodedata.normalize("NFKD", parted.casefold().translate(LETTERS))
    kept = "".join(
        character if character.isalnum() else " " for character in plain if not unicodedata.combining(character)
    )
    return " ".join(kept.split())


def likeness(name: str, phrases: tuple[str, ...]) -> tuple[float, str]:
    """How near the folded ``name`` is to the nearest of ``phrases``, 0 to 1, and which that is."""
    best = (0.0, "")
    for phrase in phrases:
        near = _likeness(name, phrase)
        if near > best[0]:
            best = (near, phrase)
    return best


def _likeness(name: str, phrase: str) -> float:
    if name == phrase:
        return 1.0
    theirs, ours = name.replace(" ", ""), phrase.replace(" ", "")
    if theirs == ours or sorted(name.split()) == sorted(phrase.split()):
        return REORDERED
    words = set(name.split())
    if set(phrase.split()) < words:
        return CONTAINED * len(ours) / len(theirs)
    if min(len(theirs), len(ours)) < SHORTEST_MISSPELLED:
        return 0.0
    return MISSPELLED * fuzz.ratio(theirs, ours, score_cutoff=LEAST_RATIO) / 100


def is_misspelled(text: str, phrase: str) -> bool:
    """Whether the folded ``text`` is ``phrase`` but for slips of the pen: one letter in a word, two in a long one.

    A number in a text is no slip.
    """
    theirs, ours = text.split(), phrase.split()
    if len(theirs) != len(ours) or any(map(str.isdigit, text)):
        return False
    return 0 < sum(map(_slips, theirs, ours)) <= MOST_SLIPS


def _slips(text: str, word: str) -> int:
    """Letters in which ``text`` differs from ``word``, more than ``MOST_SLIPS`` where it is another word."""
    if text == word:
        return 0
    most = 0 if len(word) < SHORTEST_MISSPELLED else 1 if len(word) < LONG else MOST_SLIPS
    slips = OSA.distance(text, word, score_cutoff=most)
    return slips if slips <= most else MOST_SLIPS + 1
