"""How much of a table a page can carry: rows are counted by the bytes they take, not by their number.

A page is to stay within 500 kB however long the names in it are, so that it opens at once on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from markupsafe import escape

MOST_BYTES = 500_000  # of a page
CELL_BYTES = 28  # the marks around a cell, at most, in a table without links
One = TypeVar("One")


def fitting(rows: Sequence[One], most_bytes: int, weigh: Callable[[One], int]) -> Sequence[One]:
    """The first rows whose weights together stay within ``most_bytes``."""
    left = most_bytes
    for place, row in enumerate(rows):
        left -= weigh(row)
        if left < 0:
            return rows[:place]
    return rows


def cells_bytes(*cells: object) -> int:
    """The bytes of a table's row with these cells, escaped as the page escapes them."""
    return sum(text_bytes(cell) + CELL_BYTES for cell in cells)


def text_bytes(text: object) -> int:
    """The bytes of a text as the page holds it."""
    return len(str(escape("" if text is None else text)).encode())


def fair_shares(weights: Sequence[int], most_bytes: int) -> list[int]:
    """How much each may take of ``most_bytes``: what it needs, or as much as every other that needs more than that."""
    shares, left = [0] * len(weights), most_bytes
    in_order = sorted(range(len(weights)), key=lambda place: (weights[place], place))
    for taken, place in enumerate(in_order):
        shares[place] = min(weights[place], left // (len(weights) - taken))
        left -= shares[place]
    return shares
