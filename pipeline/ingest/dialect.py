"""How delimited text is written, as a value that the readers share; each part is recognised where it is left out."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Dialect:
    """The spelling of a delimited file.

    ``delimiter`` is one character, or empty to recognise it from the header; ``quote`` one character or empty for none.
    ``encoding`` is a Python codec name, ``mixed`` for UTF-8 with Windows-1252 where a line is not UTF-8, or empty to
    recognise it. ``header_row`` is the line of the header from 1, 0 where there is none, None where it is the first
    line that holds the columns ``wanted``; without any wanted, the first that is not empty.
    """

    delimiter: str = ""
    quote: str = '"'
    encoding: str = ""
    header_row: int | None = None
    wanted: tuple[str, ...] = ()


CANONICAL = Dialect(delimiter=",", encoding="utf-8")
