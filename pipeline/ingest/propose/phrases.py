"""Takes texts such as ``OFFSET -0.04`` or ``ALARM: tension low`` apart, by the known phrase that begins them.

Modest on purpose: a text is cut only where it begins with a known phrase and what follows is what that event carries.
All other texts stand as they are, to be asked about.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from pipeline.ingest.propose.phrasebook import fold, phrasebook
from pipeline.ingest.propose.words import LONGEST_WORD, meaning_of

WITH_VALUE = ("offset", "hours", "clock")
WITH_DETAIL = ("alarm", "clear", "head_fitted", "part_fitted")
MOST_TOKENS = 5  # of a phrase
MOST_TEXTS = 2_000
BETWEEN = "[ :=]+"
PLAIN = re.compile(r"[^\x00-\x1f\x7f]*\Z")  # a text of one line, of which a pattern can be made
NUMBER = "[-+]?[0-9]+(?:[.,][0-9]+)?"
UNITS = {"offset": "s|sec", "clock": "s|sec", "hours": "h|hrs|hours|std|tim"}
CODE = r"[^\W\d_]{1,12}[ _-]?[0-9]{1,3}"
WHOLE, VALUED, PARTNERED, DETAILED, UNKNOWN = "whole", "valued", "partnered", "detailed", "unknown"


@dataclass(frozen=True)
class Cut:
    """How a text is cut: its shape, the phrase that begins it as written, and what follows."""

    shape: str
    phrase: str
    rest: str = ""


def phrase_share(counts: Mapping[str, int]) -> float:
    """Share of the rows that begin with a known phrase and go on as its event does, 0 to 1."""
    looked_at = Counter(counts).most_common(MOST_TEXTS)
    total = sum(count for _, count in looked_at)
    return sum(count for text, count in looked_at if cut(text).shape != UNKNOWN) / total if total else 0.0


@lru_cache(maxsize=10_000)
def cut(text: str) -> Cut:
    """How ``text`` is cut; a text that begins with no known phrase, or goes on otherwise, is of unknown shape."""
    if not PLAIN.match(text):
        return Cut(UNKNOWN, text)
    if len(text) <= LONGEST_WORD and meaning_of(text, "event").ours:
        return Cut(WHOLE, text)
    ends = [match.end() for match in re.finditer(r"[^\s:=]+", text[:LONGEST_WORD])][:MOST_TOKENS]
    for end in reversed(ends):
        ours = known_phrase(text[:end])
        if ours:
            rest = text[end:].strip(" :=")
            shape = _shape(ours, rest)
            return Cut(shape, text[:end], rest) if shape != UNKNOWN else Cut(UNKNOWN, text)
    return Cut(UNKNOWN, text)


def known_phrase(phrase: str) -> str:
    """The event of ours that ``phrase`` is known for, to the letter but for case and accents; empty if it is not."""
    folded = fold(phrase)
    return next((ours for ours, known in phrasebook().words["event"].items() if folded and folded in known), "")


def _shape(ours: str, rest: str) -> str:
    if ours in WITH_VALUE:
        unit = f"(?: ?(?:{UNITS[ours]}))?"
        if re.fullmatch(NUMBER + unit, rest, re.IGNORECASE):
            return VALUED
        return PARTNERED if re.fullmatch(f"{CODE}{BETWEEN}{NUMBER}{unit}", rest, re.IGNORECASE) else UNKNOWN
    return DETAILED if ours in WITH_DETAIL and rest else UNKNOWN
