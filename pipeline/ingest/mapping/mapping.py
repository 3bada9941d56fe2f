"""Turns a batch in a room's own columns and words into one in ours; what is not mapped is kept under its own name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.errors import unmapped_column
from pipeline.ingest.batch import CELLS, Batch, all_aside, aside_rows, cell_name
from pipeline.ingest.feeds import Feed

OF_NO_INTEREST = "of no interest: its [[feeds]] table says so of its word"


@dataclass(frozen=True)
class Words:
    """Their words for one of our columns, each with ours: whole cells in small letters, beginnings likewise, patterns.

    ``begins`` has the longest first; ``patterns`` are in the order written. An empty word of ours is "of no interest".
    """

    column: str
    exact: tuple[tuple[str, str], ...]
    begins: tuple[tuple[str, str], ...]
    patterns: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Mapping:
    """Their columns to ours, parts of cells to columns, values for empty cells, and words.

    ``empty`` are cells, in small letters, that say nothing: "not recorded".
    """

    columns: tuple[tuple[str, tuple[str, ...]], ...] = ()
    parts: tuple[tuple[str, tuple[str, ...]], ...] = ()
    part_names: tuple[str, ...] = ()
    constants: tuple[tuple[str, str], ...] = ()
    words: tuple[Words, ...] = ()
    empty: tuple[str, ...] = ()

    @property
    def made(self) -> frozenset[str]:
        """Those of our columns that need no column of the file: they come from parts or constants."""
        mapped = {ours for theirs, named in self.columns if theirs in self.part_names for ours in named}
        return frozenset({*self.part_names, *(name for name, _ in self.constants), *mapped})

    def theirs(self, ours: str) -> tuple[str, ...]:
        """Their columns that are mapped to ``ours``, in the order written."""
        return tuple(theirs for theirs, named in self.columns if ours in named)


def wanted_columns(feed: Feed, mapping: Mapping) -> tuple[str, ...]:
    """The headers that tell the header line of a file: their names of the columns that rows of this feed need."""
    wanted: list[str] = []
    for column in feed.required:
        if column not in mapping.made:
            wanted += mapping.theirs(column) or (column,)
    wanted += (theirs for theirs, _ in mapping.parts)
    return tuple(dict.fromkeys(theirs for theirs in wanted if theirs not in mapping.part_names))


def map_batch(batch: Batch, feed: Feed, mapping: Mapping, *, decimal: str = "", thousands: str = "") -> Batch:
    """``batch`` with our headers first, then all of theirs that are mapped to none of ours.

    Rows whose word is of no interest move to ``aside``. Numbers written with ``decimal`` and ``thousands`` become
    plain.
    """
    own = [column.name for column in feed.columns]
    frame, place = _with_parts(batch, mapping)
    made = {name: _joined(name, place, mapping) for name in own}
    present = [name for name in own if made[name] is not None or any(name == ours for ours, _ in mapping.constants)]
    frame = frame.with_columns(_own_cell(name, made[name], mapping).alias(f"own_{name}") for name in present)
    frame = frame.with_columns(
        _plain_number(column.name, decimal, thousands)
        for column in feed.columns
        if column.kind == "number" and column.name in present and (decimal == "," or thousands)
    )
    frame = frame.with_columns(_translated(words) for words in mapping.words if words.column in present)
    frame, ignored = _without_ignored(frame, [words.column for words in mapping.words if words.column in present])
    plain = [name for name in present if not mapping.theirs(name)]
    used = {_found(name, batch.headers) for name in (*(theirs for theirs, _ in mapping.columns), *plain)}
    rest = [header for header in batch.headers if header not in used]
    headers = (*present, *(f"{header} (theirs)" if header in own else header for header in rest))
    columns = [*(f"own_{name}" for name in present), *(place[header] for header in rest)]
    rows = frame.select("line", "text", *(pl.col(column).alias(cell_name(k)) for k, column in enumerate(columns)))
    return Batch(headers, rows, all_aside([batch.aside, ignored]), batch.findings)


def check_mapped(file: str, headers: Iterable[str], mapping: Mapping) -> None:
    """Refuse a file that lacks a column which its table names.

    Raises:
        FeedError: which, and what the file has instead.
    """
    found = tuple(headers)
    for theirs in dict.fromkeys((*(name for name, _ in mapping.columns), *(name for name, _ in mapping.parts))):
        if theirs not in mapping.part_names and _found(theirs, found) is None:
            raise unmapped_column(file, theirs, found)


def _found(name: str, headers: Sequence[str]) -> str | None:
    """The header meant by ``name``: equal, or equal but for letter case where only one is."""
    if name in headers:
        return name
    near = [header for header in headers if header.casefold() == name.casefold()]
    return near[0] if len(near) == 1 else None


def _with_parts(batch: Batch, mapping: Mapping) -> tuple[pl.DataFrame, dict[str, str]]:
    """The rows with a column a part, and the column of every header; a named group that is empty is not recorded."""
    place = {header: cell_name(k) for k, header in enumerate(batch.headers)}
    for theirs, _ in mapping.columns:
        found = _found(theirs, batch.headers)
        if found is not None:
            place[theirs] = place[found]
    frame = batch.rows
    if mapping.empty:
        says_nothing = CELLS.str.to_lowercase().is_in(mapping.empty)
        frame = frame.with_columns(pl.when(~says_nothing).then(CELLS).name.keep())
    for number, (theirs, patterns) in enumerate(mapping.parts):
        found = _found(theirs, batch.headers)
        if found is None:
            continue
        frame, names = _cut(frame, place[found], patterns, f"part_{number}")
        for name, column in names.items():
            if name in place and place[name].startswith("part_"):
                frame = frame.with_columns(pl.coalesce(place[name], column).alias(column))
            place[name] = column
    return frame, place


def _cut(frame: pl.DataFrame, cell: str, patterns: Sequence[str], before: str) -> tuple[pl.DataFrame, dict[str, str]]:
    """The named groups of the first pattern that matches, as columns ``<before>_<name>``."""
    found: dict[str, list[pl.Expr]] = {}
    text, earlier = pl.col(cell), pl.lit(value=False)
    for pattern in patterns:
        matches = text.str.contains(pattern).fill_null(value=False)
        for place, name in group_names(pattern):
            part = text.str.extract(pattern, place).str.strip_chars()
            found.setdefault(name, []).append(pl.when(matches & ~earlier & (part != "")).then(part))
        earlier = earlier | matches
    names = {name: f"{before}_{name}" for name in found}
    return frame.with_columns(pl.coalesce(parts).alias(names[name]) for name, parts in found.items()), names


def group_names(pattern: str) -> list[tuple[int, str]]:
    """Number and name of each named group of a pattern."""
    groups = pl.Series([""]).str.extract_groups(pattern).struct.fields
    return [(number, name) for number, name in enumerate(groups, start=1) if not name.isdigit()]


def _joined(name: str, place: dict[str, str], mapping: Mapping) -> pl.Expr | None:
    theirs = [each for each in mapping.theirs(name) if each in place] or [
        each for each in [_found(name, [*place])] if each
    ]
    cells = [pl.col(place[each]) for each in theirs]
    if len(cells) < 2:
        return cells[0] if cells else None
    joined = pl.concat_str(cells, separator=" ", ignore_nulls=True)
    return pl.when(joined != "").then(joined)


def _own_cell(name: str, cell: pl.Expr | None, mapping: Mapping) -> pl.Expr:
    constant = pl.lit(dict(mapping.constants).get(name), pl.String)
    return constant if cell is None else pl.coalesce(cell, constant)


def _plain_number(name: str, decimal: str, thousands: str) -> pl.Expr:
    cell = pl.col(f"own_{name}")
    if thousands:
        cell = cell.str.replace_all(r"\s" if thousands.isspace() else thousands, "", literal=not thousands.isspace())
    return (cell.str.replace(",", ".", literal=True) if decimal == "," else cell).alias(f"own_{name}")


def _translated(words: Words) -> pl.Expr:
    cell = pl.col(f"own_{words.column}")
    small = cell.str.to_lowercase()
    choices = []
    if words.exact:
        theirs, ours = zip(*words.exact, strict=True)
        choices = [small.replace_strict(theirs, ours, default=None, return_dtype=pl.String)]
    choices += [pl.when(small.str.starts_with(theirs)).then(pl.lit(ours)) for theirs, ours in words.begins]
    choices += [pl.when(cell.str.contains(pattern)).then(pl.lit(ours)) for pattern, ours in words.patterns]
    return pl.coalesce(*choices, cell).alias(f"own_{words.column}")


def _without_ignored(frame: pl.DataFrame, columns: Sequence[str]) -> tuple[pl.DataFrame, pl.DataFrame]:
    if not columns:
        return frame, aside_rows([], [], OF_NO_INTEREST)
    is_ignored = pl.any_horizontal((pl.col(f"own_{name}") == "").fill_null(value=False) for name in columns)
    ignored = frame.filter(is_ignored)
    return frame.filter(~is_ignored), aside_rows(ignored["line"], ignored["text"], OF_NO_INTEREST)
