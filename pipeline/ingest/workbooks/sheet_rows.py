"""Gathers the rows of a sheet whose cells come one after the other, within bounds, and holds the words for its errors.

Only rows and columns that hold something take room: one forgotten cell at the far end of a sheet costs nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.ingest.batch import cell_name

# A sheet has 1,048,576 rows of 16,384 columns (ECMA-376 part 1, 18.3.1.73 and 18.3.1.4; LibreOffice has as many).
MOST_ROWS = 1_048_576
MOST_COLUMNS = 16_384
MOST_CELLS = 32_000_000  # a sheet filled to its last row, 30 columns wide; about 2 GB of text cells
MOST_CHARACTERS = 1 << 30  # a text that many cells share counts for each
CELLS_IN_A_PART = 500_000

DAMAGED = "it is damaged, or was not written to its end"
TOO_LARGE = f"the sheet has more than {MOST_CELLS:,} cells, or {MOST_CHARACTERS >> 30} GiB of text"


class WorkbookError(Exception):
    """Why a workbook cannot be read, in words that follow "cannot be read:"."""


@dataclass(frozen=True)
class Sheet:
    """A sheet by its name as the workbook's tabs show it; ``place`` is its number from 0."""

    name: str
    place: int
    is_visible: bool


class SheetRows:
    """Rows added one by one, as a frame: ``line``, the sheet's row from 1, and text cells by column from 0."""

    def __init__(self) -> None:
        self._parts: list[pl.DataFrame] = []
        self._lines: list[int] = []
        self._rows: list[Mapping[int, str]] = []
        self._columns: set[int] = set()
        self._fresh: set[int] = set()
        self._count = self._characters = 0

    def add(self, line: int, cells: Mapping[int, str], times: int = 1) -> None:
        """Add a row that stands on ``line``, and on the lines that follow if it stands there ``times`` times.

        One without a cell is no row.

        Raises:
            WorkbookError: the sheet is larger than any is, or than can be read.
        """
        if not cells:
            return
        self._columns.update(cells)
        self._fresh.update(cells)
        self._count += times
        self._characters += times * sum(map(len, cells.values()))
        if line < 1 or line + times - 1 > MOST_ROWS or max(cells) >= MOST_COLUMNS:
            raise WorkbookError(DAMAGED)
        if self._count * len(self._columns) > MOST_CELLS or self._characters > MOST_CHARACTERS:
            raise WorkbookError(TOO_LARGE)
        self._lines += range(line, line + times)
        self._rows += [cells] * times
        if len(self._rows) * len(self._fresh) > CELLS_IN_A_PART:
            self._put_by()

    def frame(self) -> pl.DataFrame:
        """All rows, in the order of the sheet, with a column for each that holds something."""
        self._put_by()
        whole = pl.concat(self._parts, how="diagonal")
        return whole.select("line", *(cell_name(k) for k in sorted(self._columns))).sort("line", maintain_order=True)

    def _put_by(self) -> None:
        columns = {cell_name(k): [row.get(k) for row in self._rows] for k in self._fresh}
        schema = {"line": pl.Int64} | dict.fromkeys(columns, pl.String)
        self._parts.append(pl.DataFrame({"line": self._lines, **columns}, schema=schema))
        self._lines, self._rows, self._fresh = [], [], set()
