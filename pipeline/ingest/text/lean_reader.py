"""Reads plain delimited text, which nearly every log is, straight into columns, a block at a time.

Plain is a block without quotes, NUL characters, blank lines and headers in between, all of it UTF-8. Its rows are what
`read_csv` makes of them, but that their texts are left out: they are the cells joined again. From the first block on
that is not plain, `read_csv` itself reads the file to its end. Rows with too few or too many cells spoil no block.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from itertools import chain
from typing import BinaryIO

import numpy as np
import numpy.typing as npt
import polars as pl
from polars.exceptions import PolarsError

from pipeline.ingest.batch import CELLS, NUL, Batch, all_aside, cell_name, clean_headers, tidy_cells
from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.text.alike import sift
from pipeline.ingest.text.byte_stream import pieces_of, stream_of
from pipeline.ingest.text.csv_reader import Start, read_csv, split_misfits
from pipeline.ingest.text.header import Header, find_header, names_in
from pipeline.ingest.text.headings import find_headings, longest_word
from pipeline.ingest.text.lines import BYTE_ORDER_MARK, LONGEST_LINE, Block
from pipeline.ingest.text.quotes import Quoted

PLAIN_BYTES = LONGEST_LINE  # so that no line of a block can be too long
HEAD_LINES = 400  # more than the search for a header looks at
NEWLINE, SPACE = 10, 32
MOST_MENTIONS = 1_000  # of a word of the header in one block of rows
FEW_MISFITS, MANY_MISFITS = 100, 0.1  # lines, and share of a block beyond them: it is no table then
# Letters beyond ASCII that are a small s and k where the case of letters does not count.
OTHER_CASES = (b"\xc5\xbf", b"\xe2\x84\xaa")

Bytes = npt.NDArray[np.uint8]


def read_lean(
    stream: BinaryIO,
    file: str,
    dialect: Dialect = CANONICAL,
    *,
    start: Start | None = None,
    block_bytes: int = PLAIN_BYTES,
    finds_alike: bool = False,
) -> Iterator[Batch]:
    """What `read_csv` gives, in other batches; ``text`` is null where it is the cells joined by ``delimiter``.

    With ``finds_alike`` rows whose first cell is a stamp may be in ``alike`` in their stead.

    Raises:
        FeedError: as `read_csv`.
    """
    header = Header(start.headers, dialect) if start else None
    line = first = start.first_line if start else 1
    held = b""
    while more := stream.read(block_bytes - len(held)):
        data = held + more
        cut = data.rfind(b"\n") + 1
        whole, held = (data[:cut], data[cut:]) if cut else (b"", data)
        body, found = _below_header(whole, file, dialect) if header is None else (whole, header)
        first_row = line + int(header is None)
        batch = None if found is None else _plain_batch(body, found, first_row, finds_alike=finds_alike)
        if batch is None:
            held = data
            break
        header, line = found, first_row + batch.read_count
        yield batch
    if held or line == first:
        rest = stream_of(chain((held,), pieces_of(stream)))
        if header is None:
            yield from read_csv(rest, file, dialect, start=start)
        else:
            yield from read_csv(rest, file, header.dialect, start=Start(line, header.names))


def _below_header(whole: bytes, file: str, dialect: Dialect) -> tuple[bytes, Header | None]:
    """What is below a header on the first line; None for the header where it is elsewhere or has to be searched for."""
    text = whole.removeprefix(BYTE_ORDER_MARK)
    header = _first_line_header(text, file, dialect)
    if header is not None:
        return text[text.find(b"\n") + 1 :], header
    lines = text.split(b"\n", HEAD_LINES)[:HEAD_LINES]
    is_last = len(lines) < HEAD_LINES
    head = b"\n".join(lines)
    if b"\r" in head or NUL.encode() in head or (dialect.quote and dialect.quote.encode() in head):
        return b"", None
    try:
        series = pl.Series("line", head.decode().removesuffix("\n").split("\n"), pl.String)
    except UnicodeDecodeError:
        return b"", None
    block = Block(1, series, frozenset(), has_quotes=False, has_nul=False, is_last=is_last)
    header = find_header(block, file, dialect)
    if header is None or (header.line, header.above, header.rows_at) != (1, 0, 1):
        return b"", None
    return text[text.find(b"\n") + 1 :], header


def _first_line_header(text: bytes, file: str, dialect: Dialect) -> Header | None:
    """The header that the first line plainly is: it spells all columns wanted, under a delimiter that is known."""
    line = text[: text.find(b"\n")]
    if not dialect.delimiter or not dialect.wanted or dialect.header_row not in {None, 1}:
        return None
    if not line.isascii() or b"\r" in line or b"\x00" in line or (dialect.quote and dialect.quote.encode() in line):
        return None
    cells = names_in(line.decode().split(dialect.delimiter))
    return Header(clean_headers(file, cells), dialect, 1, 0, 1) if set(dialect.wanted) <= set(cells) else None


def _plain_batch(data: bytes, header: Header, first_line: int, *, finds_alike: bool) -> Batch | None:
    """The rows of ``data``, whole lines that begin with number ``first_line``; None if it is not plain."""
    mark, width = header.dialect.delimiter, len(header.names)
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not data or width < 2 or _may_be_quoted(data, header):
        return None
    alike = None
    if finds_alike:
        alike, data, lines = sift(data, mark, width, first_line)
        shown = "".join(f"{mark}{ending}\n" for ending in alike.endings) if alike else ""
        if shown and _may_hold_header(shown.encode(), header):
            return None
    else:
        lines = np.arange(first_line, first_line + data.count(b"\n"))
    if not _is_plain(data, header):
        return None
    is_square = data.count(mark.encode()) == (width - 1) * lines.size
    rows = _cut(data, mark, width, lines) if is_square else None
    aside: list[pl.DataFrame] = []
    if rows is None:  # some lines have too few cells or too many
        letters = np.frombuffer(data, np.uint8)
        is_misfit = _widths(letters, mark) != width
        if is_misfit.sum() > FEW_MISFITS + MANY_MISFITS * lines.size:
            return None
        data, misfits = _without(data, letters, is_misfit)
        aside.append(_aside(misfits, lines[is_misfit], mark, width))
        rows = _cut(data, mark, width, lines[~is_misfit])
        if rows is None:
            return None
    if data and _has_edges(data, mark):
        rows = _tidied(rows, mark)
    return Batch(header.names, rows, all_aside(aside), delimiter=mark, alike=alike)


def _may_be_quoted(data: bytes, header: Header) -> bool:
    quote = header.dialect.quote
    return bool(quote) and quote.encode() in data


def _is_plain(data: bytes, header: Header) -> bool:
    dialect = header.dialect
    if not dialect.delimiter.isascii() or dialect.delimiter in "\r\n \x00":
        return False
    if data.startswith((b"\n", BYTE_ORDER_MARK)) or b"\n\n" in data or NUL.encode() in data:
        return False
    if not data.isascii():
        if any(letter in data for letter in OTHER_CASES):
            return False
        try:
            data.decode()
        except UnicodeDecodeError:
            return False
    return not _may_hold_header(data, header)


def _may_hold_header(data: bytes, header: Header) -> bool:
    """Whether a line is, or may be, a header again."""
    if header.dialect.header_row == 0:
        return False
    word = longest_word(header.names, header.dialect).lower().encode()
    if not word or not word.isascii():
        return True
    small, lines, at = data.lower(), [], 0
    while (at := small.find(word, at)) >= 0:
        start, end = small.rfind(b"\n", 0, at) + 1, small.index(b"\n", at)
        lines.append(data[start:end].decode())
        at = end
        if len(lines) > MOST_MENTIONS:
            return True
    if not lines:
        return False
    block = Block(1, pl.Series("line", lines, pl.String), frozenset(), has_quotes=False, has_nul=False, is_last=True)
    return bool(find_headings(block, Quoted(), header.names, header.dialect))


def _widths(letters: Bytes, mark: str) -> npt.NDArray[np.int64]:
    """How many cells each line has."""
    ends = letters[(letters == NEWLINE) | (letters == ord(mark))]  # what each cell ends in
    return np.diff(np.flatnonzero(ends == NEWLINE), prepend=-1)


def _without(data: bytes, letters: Bytes, is_misfit: npt.NDArray[np.bool_]) -> tuple[bytes, list[str]]:
    """``data`` without the lines that do not fit, and these."""
    ends = np.flatnonzero(letters == NEWLINE) + 1
    starts = np.concatenate([[0], ends[:-1]])
    pieces, misfits, at = [], [], 0
    for start, end in zip(starts[is_misfit].tolist(), ends[is_misfit].tolist(), strict=True):
        pieces.append(data[at:start])
        misfits.append(data[start : end - 1].decode())
        at = end
    return b"".join([*pieces, data[at:]]), misfits


def _aside(texts: list[str], lines: npt.NDArray[np.int64], mark: str, width: int) -> pl.DataFrame:
    records = pl.DataFrame({"line": lines, "text": texts}, schema={"line": pl.Int64, "text": pl.String})
    counts = records.with_columns(
        (pl.col("text").str.count_matches(mark, literal=True).cast(pl.Int64) + 1).alias("count")
    )
    return split_misfits(counts, width, {}, has_nul=False)[1]


def _cut(data: bytes, mark: str, width: int, lines: npt.NDArray[np.int64]) -> pl.DataFrame | None:
    """The cells of ``data``, which has as many marks as its lines need; None if one line has more than another."""
    schema = {cell_name(k): pl.String for k in range(width)}
    if not data:
        return pl.DataFrame(schema={"line": pl.Int64, "text": pl.String, **schema})
    with suppress(PolarsError):  # it refuses a line with too many cells
        rows = pl.read_csv(data, has_header=False, separator=mark, quote_char=None, schema=schema)
        if rows.height == lines.size:
            return rows.select(pl.Series("line", lines), pl.lit(None, pl.String).alias("text"), pl.all())
    return None


def _has_edges(data: bytes, mark: str) -> bool:
    """Whether any cell may begin or end with white space."""
    if not data.isascii():
        return True
    letters = np.frombuffer(data, np.uint8)
    is_blank = letters <= SPACE
    if np.count_nonzero(is_blank) == data.count(b"\n") + (data.count(mark.encode()) if ord(mark) <= SPACE else 0):
        return False
    blank = np.flatnonzero(is_blank & (letters != NEWLINE) & (letters != ord(mark)))
    beside = np.concatenate([letters[np.maximum(blank - 1, 0)], letters[blank + 1]])  # the last letter is a line end
    return bool(blank[0] == 0 or ((beside == ord(mark)) | (beside == NEWLINE)).any())


def _tidied(rows: pl.DataFrame, mark: str) -> pl.DataFrame:
    """``rows`` with cells stripped; those that this changes have their text as it was."""
    tidy = tidy_cells(rows)
    cells = [name for name in rows.columns if name.startswith("cell_")]
    changed = pl.concat([rows.select(CELLS), tidy.select(CELLS.name.suffix("_tidy"))], how="horizontal").select(
        pl.any_horizontal(pl.col(name).ne_missing(pl.col(f"{name}_tidy")) for name in cells)
    )
    is_other = changed.to_series()
    if not is_other.any():
        return tidy
    texts = pl.concat_str((pl.col(name).fill_null("") for name in cells), separator=mark)
    return tidy.with_columns(rows.select(pl.when(is_other).then(texts).alias("text"))["text"])
