"""What every format reader hands on: rows as text cells under their headers, and what could not be cut into cells.

Typing works on this one shape, so that a CSV, a JSON Lines and a Parquet file with the same content give the same rows.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl
import polars.selectors as cs

from pipeline.errors import FeedError

if TYPE_CHECKING:
    from pipeline.ingest.text.alike import Alike

ASIDE_SCHEMA = pl.Schema({"line": pl.Int64, "text": pl.String, "reason": pl.String})
FINDING_SCHEMA = pl.Schema({"line": pl.Int64, "kind": pl.String, "what": pl.String})
CELLS = cs.starts_with("cell_")
NUL = "\x00"
MOST_COLUMNS = 10_000
FEW_NULS = 9
MANY_NULS = re.compile(f"{NUL}{{{FEW_NULS},}}")

NOT_UTF8 = "The row holds bytes that are not UTF-8 (shown as \\xNN). Export the file as UTF-8 text."
HOLDS_NUL = "The row holds a NUL character (shown as \\x00). Export the file again."


@dataclass(frozen=True)
class Batch:
    """Rows of one file in file order.

    ``rows`` has ``line``, ``text`` and a text column a header, named by ``cell_name``; cells are stripped, and null
    where nothing is recorded. ``aside`` has ``line``, ``text`` and ``reason``. A line is in one of the two, never both.
    ``findings`` has ``line``, ``kind`` and ``what``: facts that are no rows, such as a gap in the numbers of the lines.
    With a ``delimiter``, ``text`` is null where it is the row's cells joined by it, so that it need not be carried.
    ``alike`` are further lines, that need not be cut into cells one by one.
    """

    headers: tuple[str, ...]
    rows: pl.DataFrame
    aside: pl.DataFrame
    findings: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=FINDING_SCHEMA))
    delimiter: str = ""
    alike: Alike | None = None

    @property
    def read_count(self) -> int:
        """Rows read, whatever becomes of them."""
        return self.rows.height + self.aside.height + (self.alike.lines.size if self.alike else 0)


def cell_name(position: int) -> str:
    """The column of ``Batch.rows`` that holds the cells of header number ``position``, from 0."""
    return f"cell_{position}"


def with_texts(batch: Batch, rows: pl.DataFrame | None = None) -> pl.DataFrame:
    """``rows`` of ``batch``, by default all of them, each with its text."""
    frame = batch.rows if rows is None else rows
    if not batch.delimiter or not frame.height:
        return frame
    cells = [pl.col(cell_name(k)).fill_null("") for k in range(len(batch.headers))]
    return frame.with_columns(pl.coalesce("text", pl.concat_str(cells, separator=batch.delimiter)).alias("text"))


def aside_rows(
    lines: Sequence[int] | pl.Series, texts: Sequence[str] | pl.Series, reason: str | pl.Series
) -> pl.DataFrame:
    """Rows to set aside for ``reason``.

    NUL characters in the text are shown as ``\\x00``, and many in a row, which a logger that lost its power leaves, as
    one with their number: ``\\x00 (4096 times)``.
    """
    reasons = reason if isinstance(reason, pl.Series) else [reason] * len(lines)
    frame = pl.DataFrame({"line": lines, "text": texts, "reason": reasons}, schema=ASIDE_SCHEMA)
    if frame["text"].str.contains(NUL * FEW_NULS, literal=True).any():
        frame = frame.with_columns(pl.col("text").map_elements(_counted_nuls, pl.String))
    return frame.with_columns(pl.col("text").str.replace_all(NUL, "\\x00", literal=True))


def _counted_nuls(text: str) -> str:
    return MANY_NULS.sub(lambda run: f"\\x00 ({len(run[0])} times)", text)


def all_aside(frames: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """The frames of rows set aside as one, in file order."""
    return pl.concat([pl.DataFrame(schema=ASIDE_SCHEMA), *frames]).sort("line")


def tidy_cells(rows: pl.DataFrame) -> pl.DataFrame:
    """``rows`` with cells stripped of surrounding white space, and null where nothing is left."""
    stripped = rows.with_columns(CELLS.str.strip_chars())
    return stripped.with_columns(pl.when(CELLS != "").then(CELLS).name.keep())


def clean_headers(file: str, names: Sequence[str]) -> tuple[str, ...]:
    """Headers stripped of surrounding white space; a nameless one is called by its place, ``column 7``.

    Raises:
        FeedError: two headers are equal, one holds a NUL character, or there are more than 10,000.
    """
    check_width(file, len(names))
    headers = tuple(name.strip() or f"column {place}" for place, name in enumerate(names, start=1))
    seen: set[str] = set()
    for header in headers:
        if NUL in header:
            raise FeedError(f"{file}: the header line holds a NUL character. Export the file again.")
        if header in seen:
            raise FeedError(f'{file} has two columns "{header[:60]}". Rename one of them in the header line.')
        seen.add(header)
    return headers


def check_width(file: str, width: int) -> None:
    """Refuse a file that names more columns than any export has: each costs memory in every row.

    Raises:
        FeedError: more than 10,000 columns.
    """
    if width > MOST_COLUMNS:
        raise FeedError(
            f"{file} has {width} columns. Expected at most {MOST_COLUMNS}. Is it the export it is named for?"
        )
