"""Finds headers that come again further down in a delimited file.

A logger writes its header anew when it starts, a program that learnt a new column writes another, and people put files
one after the other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import polars as pl

from pipeline.ingest.dialect import Dialect
from pipeline.ingest.text.header import folded, names_in
from pipeline.ingest.text.lines import Block
from pipeline.ingest.text.quotes import Quoted, join_lines

PLACE = re.compile(r"column [0-9]+")

LONGEST_WORD = 200  # of a name of megabytes its beginning is looked for: a longer one makes no pattern


@dataclass(frozen=True)
class Heading:
    """A record below the header that is a header too: its position in the block, its lines and its names."""

    at: int
    line_count: int
    cells: tuple[str, ...]


def find_headings(block: Block, quoted: Quoted, names: tuple[str, ...], dialect: Dialect) -> list[Heading]:
    """Records of ``block`` that are headers again, in order: they equal ``names``, or hold all columns wanted.

    A record that shares but one name with the header is no header: a cell of any row may hold one word.
    """
    if dialect.header_row == 0:
        return []
    words = _words(names, dialect)
    found = [
        Heading(at, text.count("\n") + 1, names_in(cells))
        for at, text, cells in zip(quoted.at, quoted.texts, quoted.cells, strict=True)
        if not words or words[0].lower() in text.lower()
    ]
    for at, text in _lines_with(block, words, quoted):
        cells, _ = join_lines([text], dialect) or ([], 1)
        found.append(Heading(at, 1, names_in(cells)))
    return sorted((each for each in found if _is_heading(each.cells, names, dialect.wanted)), key=lambda each: each.at)


def longest_word(names: tuple[str, ...], dialect: Dialect) -> str:
    """A word that every line holds which is a header again, but for letter case; empty if there is none."""
    return next((word[:LONGEST_WORD] for word in _words(names, dialect)), "")


def _words(names: tuple[str, ...], dialect: Dialect) -> list[str]:
    """The words of a header that stand in its line as they are, the longest first."""
    wanted = dialect.wanted or names
    return sorted((word for word in wanted if _stands_in_text(word, dialect)), key=len, reverse=True)


def _is_heading(cells: tuple[str, ...], names: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    if cells == names:
        return True
    shared = folded(cells) & folded((*names, *wanted))
    return bool(wanted) and folded(wanted) <= folded(cells) and len(shared) > 1


def _stands_in_text(name: str, dialect: Dialect) -> bool:
    """Whether a header line has the name as it is: not over two lines, with doubled quotes, or only by its place."""
    return "\n" not in name and not (dialect.quote and dialect.quote in name) and not PLACE.fullmatch(name)


def _lines_with(block: Block, words: list[str], quoted: Quoted) -> list[tuple[int, str]]:
    """Lines that are records by themselves and hold all ``words``, with their positions."""
    if not words:
        return []
    end = block.lines.len() if quoted.cut_at is None else quoted.cut_at
    at, lines = pl.int_range(end, eager=True), block.lines.head(end)
    for word in words:  # the longest first: it is in hardly any row, so that the others cost nothing
        holds = lines.str.contains(f"(?i){pl.escape_regex(word[:LONGEST_WORD])}")
        at, lines = at.filter(holds), lines.filter(holds)
    both = zip(at.to_list(), lines.to_list(), strict=True)
    return [
        (position, text) for position, text in both if position not in quoted.taken and position not in block.left_out
    ]
