"""Reads the rows set aside a part at a time: of a file that is no log there may be tens of millions.

A part is some whole files or a range of lines of one, so that the engine passes over all else without looking.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import polars as pl

from pipeline.store import Store

PART_ROWS = 200_000
PART_BYTES = 16 << 20
STRETCHES = """
    select feed, file, line // 10000 * 10000 as line, count(*) as rows_count,
        sum(strlen(text) + strlen(reason)) as bytes_count
    from core_set_aside group by all order by all
"""
PART = """
    select * from core_set_aside
    where feed = ? and file between ? and ? and line >= ? and line < ?
    order by feed, file, line, reason
"""
PAST_ALL = 1 << 62


@dataclass
class _Part:
    feed: str
    file: str
    last_file: str
    line: int
    rows_count: int
    bytes_count: int
    end_line: int = PAST_ALL
    is_whole: bool = True  # else it holds lines of one file, from ``line`` to before ``end_line``

    def takes(self, other: _Part) -> bool:
        """Whether ``other`` can go into the same part."""
        fits = self.rows_count + other.rows_count <= PART_ROWS and self.bytes_count + other.bytes_count <= PART_BYTES
        return fits and self.feed == other.feed

    def add(self, other: _Part) -> None:
        self.last_file = other.last_file
        self.rows_count += other.rows_count
        self.bytes_count += other.bytes_count


def read_set_aside(store: Store) -> Iterator[pl.DataFrame]:
    """``core_set_aside`` in order of feed, file, line and reason, in frames of about 16 MiB of text or 200,000 rows.

    One frame, maybe empty, where it is no longer than that.
    """
    rows = store.read(STRETCHES).iter_rows()
    stretches = [_Part(feed, file, file, line, count, size) for feed, file, line, count, size in rows]
    if sum(each.rows_count for each in stretches) <= PART_ROWS and sum(s.bytes_count for s in stretches) <= PART_BYTES:
        yield store.read("select * from core_set_aside order by feed, file, line, reason")
        return
    for part in _parts(stretches):
        yield store.read(PART, [part.feed, part.file, part.last_file, part.line, part.end_line])


def _parts(stretches: list[_Part]) -> list[_Part]:
    """Stretches of one file put together, and then whole files."""
    parts: list[_Part] = []
    for _, of_file in groupby(stretches, key=lambda each: (each.feed, each.file)):
        ranges: list[_Part] = []
        for each in of_file:
            if ranges and ranges[-1].takes(each):
                ranges[-1].add(each)
            else:
                if ranges:
                    ranges[-1].end_line = each.line
                ranges.append(each)
        for each in ranges:
            each.line, each.is_whole = (0, True) if len(ranges) == 1 else (each.line, False)
        if len(ranges) == 1 and parts and parts[-1].is_whole and parts[-1].takes(ranges[0]):
            parts[-1].add(ranges[0])
        else:
            parts += ranges
    return parts
