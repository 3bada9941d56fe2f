"""The figures in words, kept as data: every figure on a page links here, and a name that is not here is an error.

The data are English; they are read in the language in force, by way of the catalogues.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.render.language import spoken_language, translated

FILE = Path(__file__).with_name("definitions.toml")
PAGE = "definitions.html"


@dataclass(frozen=True)
class Term:
    """One figure: its id (the name in figures.json), its name on pages, unit, meaning and a worked example or none."""

    id: str
    name: str
    words: str
    unit: str = ""
    example: str = ""

    @property
    def href(self) -> str:
        """Where its definition stands."""
        return f"{PAGE}#{self.id}"


@dataclass(frozen=True)
class Section:
    """A group of terms with a sentence before them."""

    title: str
    lead: str
    terms: tuple[Term, ...] = field(default=())


def read_sections(path: Path = FILE) -> tuple[Section, ...]:
    """The definitions in the order of the page, in the language in force."""
    return tuple(
        Section(translated(item["title"]), translated(item["lead"]), tuple(_term(term) for term in item["terms"]))
        for item in _data(path)["sections"]
    )


@cache
def _data(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _term(item: Mapping[str, str]) -> Term:
    name = spoken_language().words.pgettext("term", item["name"])  # apart from the same word elsewhere: "Failed"
    told = {key: translated(text) for key, text in item.items() if key not in ("id", "name")}
    return Term(id=item["id"], name=name, **told)


def read_terms() -> Mapping[str, Term]:
    """Every term by its id, in the language in force."""
    return {term.id: term for section in read_sections() for term in section.terms}
