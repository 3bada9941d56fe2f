"""Finds the header of a delimited file.

Exports have titles above their header, and leave the delimiter to be guessed. What tells a header is that it names the
columns wanted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest.batch import clean_headers
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.text.encodings import is_utf8, not_text
from pipeline.ingest.text.lines import BLOCK_BYTES, Block, lines_from
from pipeline.ingest.text.quotes import LINES_IN_A_RECORD, join_lines

SEARCHED_LINES = 200
DELIMITERS = ("\t", ";", "|", ",")  # the comma last: it stands in numbers and sentences too
BYTE_ORDER_MARK = "\ufeff"  # left in the middle by programs that put files one after the other


@dataclass(frozen=True)
class Header:
    """The headers, the delimiter in ``dialect``, and where they were found.

    ``line`` is the header's, 0 if there is none; ``above`` counts the lines above it that are not empty and no rows;
    ``rows_at`` is the position in the block at which rows begin.
    """

    names: tuple[str, ...]
    dialect: Dialect
    line: int = 0
    above: int = 0
    rows_at: int = 0


@dataclass(frozen=True)
class _Try:
    """The record at one position, read with one delimiter."""

    at: int
    dialect: Dialect
    cells: tuple[str, ...]
    line_count: int


def find_header(block: Block, file: str, dialect: Dialect) -> Header | None:
    """The header of the file that begins with ``block``; None if the block is empty or too short to tell.

    Of several lines that hold all columns wanted the first is taken, one that spells them exactly before one that does
    so but for letter case. If none does, it is the line that holds most of them, if at least half; else the first that
    is not empty.

    Raises:
        FeedError: the header cannot be read, names a column twice, or is not where ``header_row`` says.
    """
    filled = (block.lines != "").arg_true()
    if filled.is_empty():
        return None
    is_named = bool(dialect.header_row)
    at = dialect.header_row - block.first_line if dialect.header_row else int(filled[0])
    searched = SEARCHED_LINES - block.first_line + 1 if dialect.wanted and dialect.header_row is None else 0
    if not _reaches(block, max(at, searched) + LINES_IN_A_RECORD, at if is_named else 0):
        return None
    if dialect.header_row == 0:
        return _without_header(block, filled, dialect)
    if is_named:
        _check_filled(block, at, file)
    window = [at] if is_named else filled.filter(filled < searched).to_list()
    chosen = _choose(block, window, dialect) or _likeliest(block, _tries(block, at, dialect))
    if chosen is None:
        raise FeedError(f"{_where(block, at, file)}: {_why_no_record(block, at)}")
    names = read_names(block, chosen.at, chosen.line_count, cells=chosen.cells, file=file, dialect=dialect)
    above = int((filled < chosen.at).sum())
    return Header(names, chosen.dialect, block.first_line + chosen.at, above, chosen.at + chosen.line_count)


def header_for(block: Block, names: tuple[str, ...], dialect: Dialect) -> Header | None:
    """The header of a file that goes on in ``block`` under the headers ``names``; None if it is too short to tell."""
    if dialect.delimiter:
        return Header(names, dialect)
    if not _reaches(block, SEARCHED_LINES):
        return None
    spelled = [replace(dialect, delimiter=delimiter) for delimiter in DELIMITERS]
    widths = [_widths(block, 0, each) for each in spelled]
    best = max(range(len(spelled)), key=lambda k: (widths[k].count(len(names)), len(widths[k]) - widths[k].count(1)))
    return Header(names, spelled[best])


def read_names(
    block: Block, at: int, line_count: int, *, cells: Sequence[str], file: str, dialect: Dialect
) -> tuple[str, ...]:
    """The headers that the record at ``at`` gives.

    Raises:
        FeedError: the record is damaged, holds a NUL character, or names a column twice.
    """
    if block.damaged.intersection(range(at, at + line_count)):
        why = "is not UTF-8. Export the file as UTF-8 text."
        if not is_utf8(dialect.encoding):
            why = f"cannot be read. {not_text(dialect.encoding)}"
        raise FeedError(f"{_where(block, at, file)}: the header line {why}")
    return clean_headers(file, cells)


def names_in(cells: Sequence[str]) -> tuple[str, ...]:
    """Names as ``clean_headers`` gives them, without its checks."""
    first = [cell.removeprefix(BYTE_ORDER_MARK) for cell in cells[:1]]
    return tuple(cell.strip() or f"column {place}" for place, cell in enumerate([*first, *cells[1:]], start=1))


def folded(names: Iterable[str]) -> set[str]:
    """Names without regard to letter case."""
    return {name.lower() for name in names}


def _reaches(block: Block, line_count: int, at: int = 0) -> bool:
    """Whether the block has ``line_count`` lines, or if they are very long at least that at ``at``."""
    if block.is_last or block.lines.len() >= line_count:
        return True
    return at < block.lines.len() and int(block.lines.str.len_bytes().sum()) > BLOCK_BYTES


def _without_header(block: Block, filled: pl.Series, dialect: Dialect) -> Header:
    for at in filled.head(SEARCHED_LINES).to_list():
        tries = [] if at in block.damaged else _tries(block, at, dialect)
        first = _likeliest(block, tries)
        if first is not None:
            return Header(names_in([""] * len(first.cells)), first.dialect)
    return Header(names_in([""]), replace(dialect, delimiter=dialect.delimiter or DELIMITERS[0]))


def _tries(block: Block, at: int, dialect: Dialect) -> list[_Try]:
    tries: list[_Try] = []
    near: list[str] = []
    if at in block.left_out:
        return tries
    for delimiter in (dialect.delimiter,) if dialect.delimiter else DELIMITERS:
        spelled = replace(dialect, delimiter=delimiter)
        record = join_lines([block.lines[at]], spelled)
        if record is None:
            near = near or lines_from(block, at, LINES_IN_A_RECORD)[0]
            record = join_lines(near, spelled)
        if record is not None:
            tries.append(_Try(at, spelled, names_in(record[0]), record[1]))
    return tries


def _choose(block: Block, window: list[int], dialect: Dialect) -> _Try | None:
    """The first record in ``window`` that holds all columns wanted, else most of them if these are half or more.

    A header that lacks a column is still the header: so the message names the column and not a title above it.
    """
    tries = [each for at in window for each in _tries(block, at, dialect)]
    exact = [each for each in tries if set(dialect.wanted) <= set(each.cells)]
    hits = exact or [tries[k] for k in nearest_headers([each.cells for each in tries], dialect.wanted)]
    return _likeliest(block, [each for each in hits if each.at == hits[0].at])


def nearest_headers(records: Sequence[tuple[str, ...]], wanted: tuple[str, ...]) -> list[int]:
    """The places of the ``records`` that hold most of the columns ``wanted``, but for letter case; none below half."""
    counts = [len(folded(wanted) & folded(cells)) for cells in records]
    most = max(counts, default=0)
    return [k for k, count in enumerate(counts) if count == most and 0 < len(folded(wanted)) <= 2 * count]


def _likeliest(block: Block, tries: list[_Try]) -> _Try | None:
    """The one of several readings of a record with as many cells as most lines below; one cell is the last resort."""
    if len(tries) < 2:
        return tries[0] if tries else None

    def rank(each: _Try) -> tuple[bool, int, int]:
        width = len(each.cells)
        return width > 1, _widths(block, each.at, each.dialect).count(width), width

    return max(tries, key=rank)


def _widths(block: Block, at: int, dialect: Dialect) -> list[int]:
    """How many cells each record has that begins in the lines from ``at`` on."""
    lines = lines_from(block, at, SEARCHED_LINES)[0]
    widths: list[int] = []
    place = 0
    while place < len(lines):
        near = lines[place : place + LINES_IN_A_RECORD]
        record = join_lines(near[:1], dialect) or join_lines(near, dialect) if near[0] else None
        cells, line_count = record or ([], 1)
        widths += [len(cells)] if cells else []
        place += line_count
    return widths


def _check_filled(block: Block, at: int, file: str) -> None:
    if at >= block.lines.len():
        count = block.first_line + block.lines.len() - 1
        raise FeedError(f"{file} has no line {block.first_line + at} for its header, only {count}. Mend header_row.")
    if at < 0 or not block.lines[at]:
        raise FeedError(f"{_where(block, at, file)} is empty. Expected the header there. Mend header_row in site.toml.")


def _where(block: Block, at: int, file: str) -> str:
    return f"{file}, line {block.first_line + at}"


def _why_no_record(block: Block, at: int) -> str:
    if at in block.left_out:
        return f"the header line is too long. {block.why_damaged(at, '')}"
    return "the quotes of the header line do not balance. Mend it and run again."
