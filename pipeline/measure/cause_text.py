"""Turns an engineer's note into clauses of plain words, so that the word list need not know every way of writing one.

Kept to what can be explained beside a guess: short forms written out, hyphens dropped, and spelling put right.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from pipeline.measure.cause_spelling import Spelling

CLAUSE_END = re.compile(r"[;:!?()\[\]\n,]|\.(?=\s|$)|\.(?=[a-z])|(?:^|\s)[-–—>+]+(?=\s|$)")
WORD = re.compile(r"[^\W_]+(?:['’/&.-][^\W_]+)*|(?<=\s)w/(?=\s)")
INNER = re.compile(r"['’-]")


@dataclass(frozen=True)
class Word:
    """A word as it is looked up, and as it was written."""

    plain: str
    written: str


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


def letters_only(text: str) -> str:
    """Letters and digits of a text in one case, by which names are compared."""
    return re.sub(r"\W+", "", text.casefold())
