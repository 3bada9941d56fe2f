"""Finds out how delimited text is written: what parts its cells, what quotes them, and which line is the header."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.ingest.propose.traits import is_value
from pipeline.ingest.text.header import DELIMITERS

QUOTES = ('"', "'")
RECORDS_LOOKED_AT = 300
HEADER_SOUGHT_IN = 60  # records
MOSTLY = 0.8
LONGEST_NAME = 200
NAMES = {"\t": "tab", ",": "comma", ";": "semicolon", "|": "bar"}


@dataclass(frozen=True)
class Record:
    """The cells of one record, and the number of its first line."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Spelling:
    """How a text is delimited. ``delimiter`` is empty where nothing parts its lines; ``header_line`` 0 without one.

    ``agreeing`` of ``looked_at`` records have ``width`` cells.
    """

    delimiter: str
    quote: str
    records: tuple[Record, ...]
    width: int
    agreeing: int

    @property
    def looked_at(self) -> int:
        """Records that were counted."""
        return len(self.records)

    @property
    def header_line(self) -> int:
        """The line of the header, from 1; 0 where rows begin without one."""
        return find_header_line(self.records, self.width, self.width)

    @property
    def short_names(self) -> tuple[str, ...]:
        """The names of the header that are no longer than a name is, by which it is known where it comes again."""
        header = next((record.cells for record in self.records if record.line == self.header_line), ())
        return tuple(dict.fromkeys(name.strip() for name in header if 0 < len(name.strip()) <= LONGEST_NAME))


def recognise_spelling(lines: Sequence[str]) -> Spelling:
    """The delimiter with which most records have equally many cells, more than one."""
    tries = [_try(lines, delimiter, '"') for delimiter in DELIMITERS]
    best = max(tries, key=lambda each: (each.width > 1, each.agreeing * (each.width > 1), each.width))
    if best.width <= 1 or best.agreeing * 2 < best.looked_at:
        return Spelling("", "", tuple(Record(number, (line,)) for number, line in enumerate(lines, 1) if line), 1, 0)
    return _try(lines, best.delimiter, "'") if _has_single_quotes(best) else best


def find_header_line(records: Sequence[Record], width: int, usual: float) -> int:
    """The line of the first record that looks like a header: as wide as the rows, cells filled, none of them a value.

    ``usual`` is how many cells of a row are filled. 0 if a record that holds a time or a number comes before any such.
    """
    for record in records[:HEADER_SOUGHT_IN]:
        filled = [cell for cell in record.cells if cell.strip()]
        if len(record.cells) != width or len(filled) < max(1, MOSTLY * usual):
            if len(record.cells) == width and any(map(is_value, filled)) and len(filled) * 2 > usual:
                return 0
            continue
        return 0 if any(map(is_value, filled)) or len(set(filled)) < len(filled) else record.line
    return 0


def unused_delimiter(text: str) -> str:
    """A delimiter that ``text`` does not hold, so that a line is one cell; empty if it holds them all."""
    return next((each for each in ("\t", "|", ";", ",") if each not in text), "")


def _try(lines: Sequence[str], delimiter: str, quote: str) -> Spelling:
    records: list[Record] = []
    reader = csv.reader((f"{line}\n" for line in lines), delimiter=delimiter, quotechar=quote, skipinitialspace=True)
    line = 1
    try:
        for cells in reader:
            if cells:
                records.append(Record(line, tuple(cells)))
            line = reader.line_num + 1
            if len(records) == RECORDS_LOOKED_AT:
                break
    except csv.Error:
        pass  # what was read until then is enough to judge by
    widths = Counter(len(record.cells) for record in records)
    width, agreeing = max(widths.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
    return Spelling(delimiter, quote, tuple(records), width, agreeing)


def _has_single_quotes(spelling: Spelling) -> bool:
    cells = [cell for record in spelling.records for cell in record.cells if cell]
    quoted = sum(len(cell) > 1 and cell[0] == cell[-1] == "'" for cell in cells)
    return quoted * 2 > len(cells)
