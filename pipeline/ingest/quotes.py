"""Reads the records of a CSV block whose quotes hold commas, quotes or line ends; all other lines never come here.

Such a record may span lines. A quote that is never closed costs its own line and no other: reading resumes at the next.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass, field

from pipeline.ingest.lines import Block

LINES_IN_A_RECORD = 100
QUOTE = '"'
PLAINLY_QUOTED = '^(?:[^",]*|"[^",]*")(?:,(?:[^",]*|"[^",]*"))*$'

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


def read_quoted(block: Block) -> Quoted:
    """The records of ``block`` that begin with an intricate line: one whose quotes do more than wrap a plain cell."""
    found = Quoted()
    if not block.has_quotes:
        return found
    intricate = block.lines.str.contains(QUOTE, literal=True) & ~block.lines.str.contains(PLAINLY_QUOTED)
    positions = intricate.arg_true()
    free = 0
    for at, text in zip(positions.to_list(), block.lines.gather(positions).to_list(), strict=True):
        if at < free:
            continue
        near = [text]
        record = join_lines(near)
        if record is None:
            near = block.lines.slice(at, LINES_IN_A_RECORD).to_list()
            record = join_lines(near)
            if record is None and len(near) < LINES_IN_A_RECORD and not block.is_last:
                found.cut_at = at
                break
        free = at + _place(found, block, at, record=record, near=near)
    return found


def join_lines(lines: list[str]) -> tuple[list[str], int] | None:
    """Cells of the record that begins with the first of ``lines``, and how many of them it takes; None if unbalanced.

    A quote opens a cell only at its beginning (after spaces), and must be followed by a comma or the line end, RFC 4180
    section 2. A quote inside an unquoted cell, as in 3/4" tape, stands for itself.
    """
    reader = csv.reader([f"{line}\n" for line in lines], strict=True, skipinitialspace=True)
    try:
        return next(reader), reader.line_num
    except csv.Error:
        return None


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
