"""Reads delimited text with quotes as RFC 4180 has them, with the physical line number of every row.

Lines whose cells hold no delimiter, quote or line end, nearly all, are cut in one go for the whole block.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import BinaryIO

import polars as pl

from pipeline.errors import FeedError
from pipeline.ingest.batch import (
    FINDING_SCHEMA,
    HOLDS_NUL,
    NUL,
    Batch,
    all_aside,
    aside_rows,
    cell_name,
    tidy_cells,
)
from pipeline.ingest.dialect import CANONICAL, Dialect
from pipeline.ingest.text.encodings import not_text
from pipeline.ingest.text.header import Header, find_header, header_for, read_names
from pipeline.ingest.text.headings import find_headings
from pipeline.ingest.text.lines import BLOCK_BYTES, Block, part_of, prepend, read_blocks, rest_of
from pipeline.ingest.text.quotes import LINES_IN_A_RECORD, Quoted, read_quoted

BAD_QUOTES = (
    "The quotes do not balance. Expected a quoted cell to end in a quote before the next {}, at most "
    f"{LINES_IN_A_RECORD} lines on, and a quote inside it to be doubled."
)
HEADER_AGAIN = "header: the line is a header again."
NEW_HEADER = "header: the line is a new header; the rows below it are read by it."
ABOVE_HEADER = "Lines above the header, which are no rows: {}."
MOST_HEADERS = 1_000
MOST_CELLS = 5_000_000  # cut at once: of 10,000 columns 500 lines, more than the longest record has
HEAD_BYTES = 1 << 20


@dataclass(frozen=True)
class Start:
    """Where the reading of a file that grew begins: the number of the line, and the headers above it."""

    first_line: int
    headers: tuple[str, ...]


@dataclass(frozen=True)
class _Stretch:
    """Lines of a block that stand under the same headers; ``headings`` are reasons by position."""

    start: int
    header: Header
    headings: dict[int, str]


def read_csv(
    stream: BinaryIO,
    file: str,
    dialect: Dialect = CANONICAL,
    *,
    block_bytes: int = BLOCK_BYTES,
    start: Start | None = None,
) -> Iterator[Batch]:
    """The rows of a delimited file in batches, from a stream of UTF-8; none if it holds no header.

    A line further down that is the header again is set aside. One that is a new header is set aside too, and a batch
    of its own begins, with its headers.

    Raises:
        FeedError: a header cannot be read, or names a column twice; or there are too many of them.
    """
    blocks = read_blocks(stream, block_bytes, quote=dialect.quote, first_line=start.first_line if start else 1)
    header, block = _open(blocks, file, dialect, start)
    while header is not None and block is not None:
        block, later = _first_lines(block, MOST_CELLS // len(header.names))
        quoted = read_quoted(block, header.dialect)
        for batch in _batches(block, quoted, header, file):
            yield replace(batch, findings=_findings(header))
            header = replace(header, names=batch.headers, above=0)
        rest = None if quoted.cut_at is None else rest_of(block, quoted.cut_at)
        block = None if block.is_last else prepend(rest, later or next(blocks))


def read_header(stream: BinaryIO, file: str, dialect: Dialect) -> Header | None:
    """The header of a delimited file, with the delimiter recognised, from a stream of UTF-8; None if it holds none.

    Raises:
        FeedError: it cannot be read, names a column twice, or is not where ``header_row`` says.
    """
    return _open(read_blocks(stream, HEAD_BYTES, quote=dialect.quote), file, dialect, None)[0]


def _open(
    blocks: Iterator[Block], file: str, dialect: Dialect, start: Start | None
) -> tuple[Header | None, Block | None]:
    """The header, and the lines below it up to the end of their block."""
    held: Block | None = None
    for fresh in blocks:
        block = prepend(held, fresh)
        header = header_for(block, start.headers, dialect) if start else find_header(block, file, dialect)
        if header is not None:
            return header, rest_of(block, header.rows_at)
        held = block if (block.lines != "").any() else None
    return None, None


def _first_lines(block: Block, count: int) -> tuple[Block, Block | None]:
    """The first ``count`` lines of ``block``, and the others if there are any."""
    if block.lines.len() <= count:
        return block, None
    return replace(part_of(block, 0, count), is_last=False), rest_of(block, count)


def _batches(block: Block, quoted: Quoted, header: Header, file: str) -> Iterator[Batch]:
    stretches = _stretches(block, quoted, header, file)
    if len(stretches) == 1:
        yield _batch(block, quoted, header, stretches[0].headings)
        return
    ends = [*(each.start for each in stretches[1:]), block.lines.len()]
    for stretch, end in zip(stretches, ends, strict=True):
        part = part_of(block, stretch.start, end)
        yield _batch(part, read_quoted(part, header.dialect), stretch.header, stretch.headings)


def _stretches(block: Block, quoted: Quoted, header: Header, file: str) -> list[_Stretch]:
    stretches = [_Stretch(0, header, {})]
    for heading in find_headings(block, quoted, header.names, header.dialect):
        last = stretches[-1]
        if heading.cells == last.header.names:
            last.headings[heading.at - last.start] = HEADER_AGAIN
            continue
        names = read_names(
            block, heading.at, heading.line_count, cells=heading.cells, file=file, dialect=header.dialect
        )
        stretches.append(_Stretch(heading.at, replace(header, names=names), {0: NEW_HEADER}))
    if len(stretches) > MOST_HEADERS:
        raise FeedError(
            f"{file} changes its header more than {MOST_HEADERS:,} times from line {block.first_line} on. Is it the "
            "export it is named for?"
        )
    return stretches


def _batch(block: Block, quoted: Quoted, header: Header, headings: Mapping[int, str]) -> Batch:
    width = len(header.names)
    lines = pl.DataFrame({"line": pl.int_range(block.lines.len(), eager=True), "text": block.lines})
    lines = lines.head(block.lines.len() if quoted.cut_at is None else quoted.cut_at)
    outside = block.damaged - quoted.taken
    plain = _without(lines, quoted.taken | outside).filter(pl.col("text") != "")
    records = _cut_plain(plain, width, header.dialect)
    if quoted.at:
        records = pl.concat([records, _cut_quoted(quoted, width)]).sort("line")
    rows, misfits = split_misfits(records, width, headings, has_nul=block.has_nul)
    damaged = [*quoted.damaged, *((at, block.lines[at]) for at in outside if at < lines.height)]
    reasons = [block.why_damaged(at, not_text(header.dialect.encoding)) for at, _ in damaged]
    unbalanced = [_bad_quotes(header.dialect)] * len(quoted.unbalanced)
    aside = [misfits, _aside(damaged, reasons), _aside(quoted.unbalanced, unbalanced)]
    number = pl.col("line") + block.first_line
    return Batch(header.names, tidy_cells(rows).with_columns(number), all_aside(aside).with_columns(number))


def _without(lines: pl.DataFrame, positions: set[int] | frozenset[int]) -> pl.DataFrame:
    if not positions:
        return lines
    return lines.join(pl.DataFrame({"line": list(positions)}, schema={"line": pl.Int64}), on="line", how="anti")


def _cut_plain(plain: pl.DataFrame, width: int, dialect: Dialect) -> pl.DataFrame:
    text = pl.col("text")
    bare = text.str.replace_all(dialect.quote, "", literal=True) if dialect.quote else text
    cells = bare.str.split_exact(dialect.delimiter, width - 1).struct.rename_fields(
        [cell_name(k) for k in range(width)]
    )
    count = bare.str.count_matches(dialect.delimiter, literal=True).cast(pl.Int64) + 1
    return plain.sort("line").with_columns(count.alias("count"), cells.alias("cells")).unnest("cells")


def _cut_quoted(quoted: Quoted, width: int) -> pl.DataFrame:
    cells = [(*row[:width], *[None] * (width - len(row))) for row in quoted.cells]
    columns = dict(zip((cell_name(k) for k in range(width)), zip(*cells, strict=True), strict=True))
    counts = [len(row) for row in quoted.cells]
    schema = {"line": pl.Int64, "text": pl.String, "count": pl.Int64} | dict.fromkeys(columns, pl.String)
    return pl.DataFrame({"line": quoted.at, "text": quoted.texts, "count": counts, **columns}, schema=schema)


def split_misfits(
    records: pl.DataFrame, width: int, headings: Mapping[int, str], *, has_nul: bool
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The ``records`` that are rows under ``width`` headers, and those set aside: ``headings`` are reasons by line."""
    count = pl.format(f"The row has {{}} cells, the header {width}. Expected as many.", pl.col("count"))
    reason: pl.Expr = pl.when(pl.col("count") != width).then(count)
    if has_nul:
        reason = pl.when(pl.col("text").str.contains(NUL, literal=True)).then(pl.lit(HOLDS_NUL)).otherwise(reason)
    if headings:
        again = pl.col("line").replace_strict(dict(headings), default=None, return_dtype=pl.String)
        reason = pl.coalesce(again, reason)
    judged = records.with_columns(reason.alias("reason"))
    misfits = judged.filter(pl.col("reason").is_not_null())
    rows = judged.filter(pl.col("reason").is_null()).drop("reason", "count")
    return rows, aside_rows(misfits["line"], misfits["text"], misfits["reason"])


def _aside(found: list[tuple[int, str]], reasons: list[str]) -> pl.DataFrame:
    return aside_rows([at for at, _ in found], [text for _, text in found], pl.Series(reasons, dtype=pl.String))


def _bad_quotes(dialect: Dialect) -> str:
    return BAD_QUOTES.format({",": "comma", "\t": "tab"}.get(dialect.delimiter, f'"{dialect.delimiter}"'))


def _findings(header: Header) -> pl.DataFrame:
    found = [(header.line, "above_header", ABOVE_HEADER.format(header.above))] if header.above else []
    return pl.DataFrame(found, schema=FINDING_SCHEMA, orient="row")
