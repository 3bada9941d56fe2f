"""Writes the sheets of a workbook, or the cells of one, as the library reads them, to standard output.

To be run as a script, in a process of its own: a damaged file makes the library end its process, or take all memory it
can get. So this file imports nothing of ours, which also lets it start at once.
"""

from __future__ import annotations

import json
import sys
from contextlib import suppress
from pathlib import Path

import fastexcel
import polars as pl

MOST_MEMORY = 8 << 30
MOST_OUTPUT = 4 << 30
IS_PROTECTED, IS_TOO_LARGE = 3, 4  # exit statuses
KINDS = ("string", "duration", "float")


def sheets_of(reader: fastexcel.ExcelReader) -> list[tuple[str, bool]]:
    """Name of each sheet, and whether its tab is shown."""
    sheets = [reader.load_sheet(k, header_row=None, n_rows=0, dtypes="string") for k in range(len(reader.sheet_names))]
    return [(sheet.name, sheet.visible == "visible") for sheet in sheets]


def read_cells(reader: fastexcel.ExcelReader, place: int) -> pl.DataFrame:
    """The sheet number ``place``, from 0, down to its last row in use; columns ``string_<k>``, k the place from 0.

    Beside each column of texts stand ``duration_<k>``, filled where the cell is a time, and ``float_<k>``, filled where
    it is, or reads as, a number.
    """
    frames: list[pl.DataFrame] = []
    for kind in KINDS:
        sheet = reader.load_sheet(place, header_row=None, skip_rows=0, dtypes=kind)  # type: ignore[call-overload]
        frame = pl.DataFrame(sheet)
        names = [f"{kind}_{column.absolute_index}" for column in sheet.available_columns()]
        frames.append(frame.rename(dict(zip(frame.columns, names, strict=True))))
    return pl.concat(frames, how="horizontal")


def open_reader(path: str) -> fastexcel.ExcelReader:
    """The workbook by what it holds; only by its name the library says that it is protected."""
    try:
        return fastexcel.read_excel(Path(path).read_bytes())
    except fastexcel.FastExcelError:
        try:
            return fastexcel.read_excel(path)
        except fastexcel.FastExcelError as error:
            sys.exit(IS_PROTECTED if "password" in str(error).lower() else 1)


def limit_memory() -> None:
    """Let this process have 8 GiB, where the system can see to that."""
    with suppress(ImportError, ValueError, OSError):
        import resource  # noqa: PLC0415 - not every system has it

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def main(path: str, place: str = "") -> None:
    """Write the sheets as JSON, or the cells of the one that is named."""
    limit_memory()
    reader = open_reader(path)
    if not place:
        sys.stdout.write(json.dumps(sheets_of(reader)))
        return
    cells = read_cells(reader, int(place))
    if cells.estimated_size() > MOST_OUTPUT:
        sys.exit(IS_TOO_LARGE)
    cells.write_ipc_stream(sys.stdout.buffer)


if __name__ == "__main__":
    main(*sys.argv[1:])
