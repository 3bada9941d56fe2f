"""Has .xls and .xlsb workbooks read by the library in a process of its own, and makes texts of their cells.

The library has no text for a cell that holds an error: it reads as empty, and its row is kept if another cell of it is
filled.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.ingest.batch import cell_name
from pipeline.ingest.frame_cells import elapsed_text
from pipeline.ingest.workbooks.sheet_rows import TOO_LARGE, Sheet, WorkbookError
from pipeline.ingest.workbooks.sheet_values import DAY_MS, LONGEST_DAYS
from pipeline.ingest.workbooks.workbook_library import IS_PROTECTED, IS_TOO_LARGE, MOST_MEMORY
from pipeline.ingest.workbooks.workbook_package import PROTECTED

SCRIPT = Path(__file__).with_name("workbook_library.py")
LONGEST_S = 300
MEMORY = f"takes more than {MOST_MEMORY >> 30} GiB of memory to read, as one with a cell far from its table does"
UNREAD = f"it is damaged, or {MEMORY}"
SAID = {IS_PROTECTED: PROTECTED, IS_TOO_LARGE: TOO_LARGE}


@dataclass(frozen=True)
class BinaryBook:
    """A workbook by its path."""

    path: Path
    sheets: tuple[Sheet, ...]

    def rows(self, sheet: Sheet) -> pl.DataFrame:
        """The rows of ``sheet`` that hold something: ``line`` from 1, and text cells by column from 0.

        Times of less than 20,000 days are times that have passed, others dates.

        Raises:
            WorkbookError: the library cannot read it, or not within 5 minutes and 8 GiB.
        """
        frame = texts_of_cells(pl.read_ipc_stream(io.BytesIO(_answer(self.path, str(sheet.place)))))
        if frame.width == 1:
            return frame
        cells = pl.col(frame.columns[1:])
        return frame.filter(pl.any_horizontal(cells.is_not_null() & (cells != "")))


def open_binary(path: Path) -> BinaryBook:
    """The workbook at ``path``.

    Raises:
        WorkbookError: it is damaged, protected or too large.
    """
    found = json.loads(_answer(path))
    sheets = [Sheet(name, place, is_visible) for place, (name, is_visible) in enumerate(found)]
    return BinaryBook(path, tuple(sheets))


def _answer(path: Path, *place: str) -> bytes:
    command = [sys.executable, "-P", str(SCRIPT), str(path.absolute()), *place]
    environment = {**os.environ, "POLARS_MAX_THREADS": "1"}
    try:
        done = subprocess.run(  # noqa: S603 - a file of ours
            command, capture_output=True, env=environment, timeout=LONGEST_S, check=True, stdin=subprocess.DEVNULL
        )
    except subprocess.TimeoutExpired:
        raise WorkbookError(f"it takes more than {LONGEST_S} seconds to read") from None
    except subprocess.CalledProcessError as error:
        raise WorkbookError(SAID.get(error.returncode, UNREAD)) from None
    return done.stdout


def texts_of_cells(frame: pl.DataFrame) -> pl.DataFrame:
    """``line`` from 1 and the cells by column, from what ``workbook_library.read_cells`` found."""
    columns = [int(name.partition("_")[2]) for name in frame.columns if name.startswith("string_")]
    cells = frame.select(_cell(k).alias(cell_name(k)) for k in columns)
    return cells.with_row_index("line", 1).with_columns(pl.col("line").cast(pl.Int64))


def _cell(column: int) -> pl.Expr:
    text, number = pl.col(f"string_{column}"), pl.col(f"float_{column}")
    passed = pl.col(f"duration_{column}").dt.total_milliseconds()
    date = text.str.replace(" ", "T", literal=True).str.strip_suffix("T00:00:00")
    moment = pl.when(passed < LONGEST_DAYS * DAY_MS).then(elapsed_text(passed)).otherwise(date)
    # The library writes nine digits behind the point; a sheet keeps 15 in all.
    is_cut = (text.cast(pl.Float64, strict=False) != number) & (number != number.round())
    precise = number.round_sig_figs(15).cast(pl.String)
    return pl.when(passed.is_not_null()).then(moment).when(is_cut).then(precise).otherwise(text)
