"""Reads the records of a block whose quotes hold delimiters, quotes or line ends; all other lines never come here.

Such a record may span lines. A quote that is never closed costs its own line and no other: reading resumes at the next.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass, field

from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.text.lines import Block, lines_from

LINES_IN_A_RECORD = 100

csv.field_size_limit(sys.maxsize)  # a cell may hold a whole machine log


@dataclass
class Quoted:
    """Records with intricate quotes, by position of their first line in the block.

    ``at``, ``texts`` and ``cells`` belong together. ``unbalanced`` and ``damaged`` are set aside with their texts.
    ``taken`` are the positions of all lines these records cover; ``cut_at`` is where a record goes on past the block.
    """

    at: list[int] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    cells: list[list[str]] = field(default_factory=list)
    unbalanced: list[tuple[int, str]] = field(default_factory=list)
    damaged: list[tuple[int, str]] = field(default_factory=list)
    taken: set[int] = field(default_factory=set)
    cut_at: int | None = None


def read_quoted(block: Block, dialect: Dialect = CANONICAL) -> Quoted:
    """The records of ``block`` that begin with an intricate line: one whose quotes do more than wrap a plain cell."""
    found = Quoted()
    if not block.has_quotes:
        return found
    intricate = block.lines.str.contains(dialect.quote, literal=True) & ~block.lines.str.contains(_plain(dialect))
    positions = intricate.arg_true()
    free = 0
    for at, text in zip(positions.to_list(), block.lines.gather(positions).to_list(), strict=True):
        if at < free or at in block.left_out:
            continue
        near, is_open = [text], False
        record = join_lines(near, dialect)
        if record is None:
            near, is_open = lines_from(block, at, LINES_IN_A_RECORD)
            record = join_lines(near, dialect)
        if record is None and is_open:
            found.cut_at = at
            break
        free = at + _place(found, block, at, record=record, near=near)
    return found


def join_lines(lines: list[str], dialect: Dialect = CANONICAL) -> tuple[list[str], int] | None:
    """Cells of the record that begins with the first of ``lines``, and how many of them it takes; None if unbalanced.

    A quote opens a cell only at its beginning (after spaces), and must be followed by a delimiter or the line end, RFC
    4180 section 2. A quote inside an unquoted cell, as in 3/4" tape, stands for itself.
    """
    if not dialect.quote:
        return lines[0].split(dialect.delimiter), 1
    reader = csv.reader(
        (f"{line}\n" for line in lines),
        strict=True,
        delimiter=dialect.delimiter,
        quotechar=dialect.quote,
        skipinitialspace=dialect.delimiter != " ",
    )
    try:
        return next(reader), reader.line_num
    except csv.Error:
        return None


def _plain(dialect: Dialect) -> str:
    """A pattern for lines whose quotes, if any, wrap whole cells without a delimiter or quote in them."""
    quote, delimiter = (rf"\x{{{ord(letter):x}}}" for letter in (dialect.quote, dialect.delimiter))
    cell = f"(?:[^{quote}{delimiter}]*|{quote}[^{quote}{delimiter}]*{quote})"
    return f"^{cell}(?:{delimiter}{cell})*$"


def _place(found: Quoted, block: Block, at: int, *, record: tuple[list[str], int] | None, near: list[str]) -> int:
    cells, count = record or ([], 1)
    text = near[0] if count == 1 else "\n".join(near[:count])
    covers = range(at, at + count)
    found.taken.update(covers)
    if block.damaged and not block.damaged.isdisjoint(covers):
        found.damaged.append((at, text))
    elif record is None:
        found.unbalanced.append((at, text))
    else:
        found.at.append(at)
        found.texts.append(text)
        found.cells.append(cells)
    return count
