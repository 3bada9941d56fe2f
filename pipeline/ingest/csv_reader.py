"""Reads CSV as RFC 4180 has it, with the physical line number of every row.

Lines whose cells hold no comma, quote or line end, nearly all, are cut at their commas in one go for the whole block.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest.batch import (
    HOLDS_NUL,
    NOT_UTF8,
    Batch,
    all_aside,
    aside_rows,
    cell_name,
    clean_headers,
    tidy_cells,
)
from pipeline.ingest.lines import BLOCK_BYTES, Block, prepend, read_blocks, rest_of
from pipeline.ingest.quotes import LINES_IN_A_RECORD, QUOTE, Quoted, join_lines, read_quoted

BAD_QUOTES = (
    "The quotes do not balance. Expected a quoted cell to end in a quote before the next comma, at most "
    f"{LINES_IN_A_RECORD} lines on, and a quote inside it to be doubled."
)


def read_csv(stream: BinaryIO, file: str, *, block_bytes: int = BLOCK_BYTES) -> Iterator[Batch]:
    """The rows of a CSV file in batches; none if it holds no header. The first line that is not empty is the header.

    Raises:
        FeedError: the header cannot be read, or names a column twice.
    """
    headers: tuple[str, ...] = ()
    held: Block | None = None
    for fresh in read_blocks(stream, block_bytes):
        block = prepend(held, fresh)
        held = None
        if not headers:
            headers, block = _take_header(block, file)
        if headers:
            quoted = read_quoted(block)
            yield _batch(block, quoted, headers)
            held = None if quoted.cut_at is None else rest_of(block, quoted.cut_at)


def _take_header(block: Block, file: str) -> tuple[tuple[str, ...], Block]:
    filled = (block.lines != "").arg_true()
    if filled.is_empty():
        return (), block
    first: int = filled[0]
    where = f"{file}, line {block.first_line + first}"
    record = join_lines(block.lines.slice(first, LINES_IN_A_RECORD).to_list())
    if record is None:
        raise FeedError(f"{where}: the quotes of the header line do not balance. Mend it and run again.")
    names, count = record
    if not block.damaged.isdisjoint(range(first, first + count)):
        raise FeedError(f"{where}: the header line is not UTF-8. Export the file as UTF-8 text.")
    return clean_headers(file, names), rest_of(block, first + count)


def _batch(block: Block, quoted: Quoted, headers: tuple[str, ...]) -> Batch:
    lines = pl.DataFrame({"line": pl.int_range(block.lines.len(), eager=True), "text": block.lines})
    lines = lines.head(block.lines.len() if quoted.cut_at is None else quoted.cut_at)
    outside = block.damaged - quoted.taken
    plain = _without(lines, quoted.taken | outside).filter(pl.col("text") != "")
    records = _cut_plain(plain, len(headers))
    if quoted.at:
        records = pl.concat([records, _cut_quoted(quoted, len(headers))]).sort("line")
    rows, misfits = _split_misfits(records, len(headers), has_nul=block.has_nul)
    damaged = [*quoted.damaged, *((at, block.lines[at]) for at in outside if at < lines.height)]
    aside = [misfits, _aside(damaged, NOT_UTF8), _aside(quoted.unbalanced, BAD_QUOTES)]
    number = pl.col("line") + block.first_line
    return Batch(headers, tidy_cells(rows).with_columns(number), all_aside(aside).with_columns(number))


def _without(lines: pl.DataFrame, positions: set[int] | frozenset[int]) -> pl.DataFrame:
    if not positions:
        return lines
    return lines.join(pl.DataFrame({"line": list(positions)}, schema={"line": pl.Int64}), on="line", how="anti")


def _cut_plain(plain: pl.DataFrame, width: int) -> pl.DataFrame:
    bare = pl.col("text").str.replace_all(QUOTE, "", literal=True)
    cells = bare.str.split_exact(",", width - 1).struct.rename_fields([cell_name(k) for k in range(width)])
    count = bare.str.count_matches(",", literal=True).cast(pl.Int64) + 1
    return plain.sort("line").with_columns(count.alias("count"), cells.alias("cells")).unnest("cells")


def _cut_quoted(quoted: Quoted, width: int) -> pl.DataFrame:
    cells = [(*row[:width], *[None] * (width - len(row))) for row in quoted.cells]
    columns = dict(zip((cell_name(k) for k in range(width)), zip(*cells, strict=True), strict=True))
    counts = [len(row) for row in quoted.cells]
    schema = {"line": pl.Int64, "text": pl.String, "count": pl.Int64} | dict.fromkeys(columns, pl.String)
    return pl.DataFrame({"line": quoted.at, "text": quoted.texts, "count": counts, **columns}, schema=schema)


def _split_misfits(records: pl.DataFrame, width: int, *, has_nul: bool) -> tuple[pl.DataFrame, pl.DataFrame]:
    count = pl.format(f"The row has {{}} cells, the header {width}. Expected as many.", pl.col("count"))
    reason: pl.Expr = pl.when(pl.col("count") != width).then(count)
    if has_nul:
        reason = pl.when(pl.col("text").str.contains("\x00", literal=True)).then(pl.lit(HOLDS_NUL)).otherwise(reason)
    judged = records.with_columns(reason.alias("reason"))
    misfits = judged.filter(pl.col("reason").is_not_null())
    rows = judged.filter(pl.col("reason").is_null()).drop("reason", "count")
    return rows, aside_rows(misfits["line"], misfits["text"], misfits["reason"])


def _aside(found: list[tuple[int, str]], reason: str) -> pl.DataFrame:
    return aside_rows([at for at, _ in found], [text for _, text in found], reason)
