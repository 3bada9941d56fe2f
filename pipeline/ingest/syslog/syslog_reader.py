"""Reads syslog text, a message a line: RFC 5424, RFC 3164 and what daemons write of them into files, also mixed.

What a daemon escaped, such as #012 for a line end, stays as it stands. A line that is no message, such as the rest of
one that was broken over lines, is set aside and never lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

import polars as pl

from pipeline.ingest.batch import (
    HOLDS_NUL,
    NOT_UTF8,
    NUL,
    Batch,
    all_aside,
    aside_rows,
    cell_name,
    check_width,
    tidy_cells,
)
from pipeline.ingest.syslog.syslog_data import Shapes, read_shapes, read_values
from pipeline.ingest.syslog.syslog_findings import Senders, find_in
from pipeline.ingest.syslog.syslog_parts import read_heads
from pipeline.ingest.text.lines import Block, read_blocks

HEADERS = ("at", "host", "app", "procid", "msgid", "facility", "severity", "msg")
BLOCK_BYTES = 8 * 1024 * 1024  # a quarter quicker than larger blocks: their memory is used again
CELLS_IN_A_BATCH = 5_000_000
SEVERITIES = 8


def read_syslog(stream: BinaryIO, file: str, *, first_line: int = 1, block_bytes: int = BLOCK_BYTES) -> Iterator[Batch]:
    """The messages of a syslog file in batches, in file order; the first line of ``stream`` is number ``first_line``.

    Headers are ``at`` as written (RFC 3164 has no year and no zone), ``host``, ``app``, ``procid``, ``msgid``,
    ``facility`` and ``severity`` as numbers, ``msg``, then ``ID.NAME`` of each parameter of structured data met in the
    batch, sorted. A line of <PRI> and text without a time has no ``at``. Findings are of the kinds ``gap``,
    ``restart`` and ``unsynchronised``.

    Raises:
        FeedError: the lines name more parameters than any export has columns.
    """
    senders = Senders()
    names: set[str] = set()
    for block in read_blocks(stream, block_bytes, first_line=first_line):
        lines, aside = _usable(block)
        heads, shapes = read_shapes(read_heads(lines))
        names |= shapes.names
        check_width(file, len(HEADERS) + len(names))
        bad, good = heads.filter(pl.col("reason").is_not_null()), heads.filter(pl.col("reason").is_null())
        aside = all_aside([aside, aside_rows(bad["line"], bad["text"], bad["reason"])])
        height = max(1, CELLS_IN_A_BATCH // (len(HEADERS) + len(shapes.names)))
        for start in range(0, max(1, good.height), height):
            messages = _messages(good.slice(start, height), shapes)
            findings, senders = find_in(messages, senders)
            yield Batch(*_cells(messages), aside, findings)
            aside = aside.clear()


def _usable(block: Block) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The lines to be read, with their numbers, and those set aside because of their bytes."""
    damaged = sorted(block.damaged)
    why = [block.why_damaged(position, NOT_UTF8) for position in damaged]
    spoilt = aside_rows(
        pl.Series(damaged, dtype=pl.Int64), block.lines.gather(damaged), pl.Series(why, dtype=pl.String)
    )
    numbers = pl.int_range(block.lines.len(), dtype=pl.Int64, eager=True)
    lines = pl.DataFrame({"line": numbers, "text": block.lines})
    if damaged:
        lines = lines.join(spoilt.select("line"), on="line", how="anti", maintain_order="left")
    lines = lines.filter(pl.col("text") != "")
    holds_nul = pl.col("text").str.contains(NUL, literal=True) if block.has_nul else pl.lit(value=False)
    bad, usable = lines.filter(holds_nul), lines.filter(~holds_nul)
    aside = all_aside([spoilt, aside_rows(bad["line"], bad["text"], HOLDS_NUL)])
    number = pl.col("line") + block.first_line
    return usable.with_columns(number), aside.with_columns(number)


def _messages(heads: pl.DataFrame, shapes: Shapes) -> pl.DataFrame:
    """``line``, ``text`` and a column a header."""
    rows = heads.with_columns(
        (pl.col("priority") // SEVERITIES).cast(pl.String).alias("facility"),
        (pl.col("priority") % SEVERITIES).cast(pl.String).alias("severity"),
    ).select("line", "text", *HEADERS)
    values = read_values(heads, shapes)
    if values.width == 1:
        return rows
    values = values.select("line", *sorted(values.columns[1:]))
    return rows.join(values, on="line", how="left", maintain_order="left")


def _cells(messages: pl.DataFrame) -> tuple[tuple[str, ...], pl.DataFrame]:
    """The headers, and the rows with a column a header, named by its place."""
    headers = tuple(messages.columns[2:])
    cells = (pl.col(header).alias(cell_name(k)) for k, header in enumerate(headers))
    return headers, tidy_cells(messages.select("line", "text", *cells))
