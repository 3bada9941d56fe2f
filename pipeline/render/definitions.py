"""The figures in words, kept as data: every figure on a page links here, and a name that is not here is an error."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

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
    """The definitions in the order of the page."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    return tuple(
        Section(item["title"], item["lead"], tuple(Term(**term) for term in item["terms"])) for item in data["sections"]
    )


def read_terms() -> Mapping[str, Term]:
    """Every term by its id."""
    return {term.id: term for section in read_sections() for term in section.terms}
