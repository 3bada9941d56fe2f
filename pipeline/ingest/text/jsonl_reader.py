"""Reads JSON Lines: an object a line, its keys the headers. Numbers keep the digits they are written with."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, BinaryIO

import polars as pl

from pipeline.ingest.batch import (
    HOLDS_NUL,
    MOST_COLUMNS,
    NOT_UTF8,
    NUL,
    Batch,
    aside_rows,
    cell_name,
    check_width,
    tidy_cells,
)
from pipeline.ingest.text.lines import Block, read_blocks

NO_OBJECT = "The line is no JSON object. Expected one object a line, with the columns as keys."
TWICE = "The object names a key twice. Expected each column once."
CELLS_IN_A_BATCH = 5_000_000


class _NoObjectError(ValueError):
    """The line is JSON, but not an object."""


class _RepeatedKeyError(ValueError):
    """An object names a key twice, so that one of the two values would be lost."""


@dataclass
class _Found:
    lines: list[int] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    objects: list[dict[str, str | None]] = field(default_factory=list)
    aside: list[tuple[int, str, str]] = field(default_factory=list)
    keys: set[str] = field(default_factory=set)


def read_jsonl(stream: BinaryIO, file: str, *, first_line: int = 1) -> Iterator[Batch]:
    """The rows of a JSON Lines file in batches, each with the keys met in it, sorted, as headers.

    The first line of ``stream`` is number ``first_line``.

    A null is a cell without a record; true and false are their words; a nested value is kept as JSON text. A line that
    is no object is set aside.

    Raises:
        FeedError: the objects name more columns than any export has.
    """
    found = _Found()
    for block in read_blocks(stream, first_line=first_line):
        for position, text in enumerate(block.lines.to_list()):
            if text:
                _read_line(found, block, position, text)
            if len(found.keys) * len(found.lines) > CELLS_IN_A_BATCH or len(found.keys) > MOST_COLUMNS:
                check_width(file, len(found.keys))
                yield _batch(found)
                found = _Found()
        yield _batch(found)
        found = _Found()


def _read_line(found: _Found, block: Block, position: int, text: str) -> None:
    line = block.first_line + position
    if position in block.damaged:
        found.aside.append((line, text, block.why_damaged(position, NOT_UTF8)))
        return
    try:
        cells = _cells(text)
    except _RepeatedKeyError:
        found.aside.append((line, text, TWICE))
    except (ValueError, RecursionError):
        found.aside.append((line, text, NO_OBJECT))
    else:
        if _holds_nul(text, cells):
            found.aside.append((line, text, HOLDS_NUL))
        else:
            found.lines.append(line)
            found.texts.append(text)
            found.objects.append(cells)
            found.keys.update(cells)


def _cells(text: str) -> dict[str, str | None]:
    pairs, end = DECODER.raw_decode(text.strip())
    if not isinstance(pairs, _Pairs) or end < len(text.strip()):
        raise _NoObjectError
    if "\\u" in text:
        json.dumps(pairs, ensure_ascii=False).encode()  # half a surrogate pair is no text
    cells: dict[str, str | None] = {}
    nested: dict[str, Any] = {}
    for key, value in pairs:
        if isinstance(value, list):
            nested = nested or json.loads(text)
        cells[key.strip() or "unnamed"] = _cell(nested[key] if isinstance(value, list) else value)
    if len(cells) < len(pairs):
        raise _RepeatedKeyError
    return cells


class _Pairs(list[tuple[str, Any]]):
    """An object as its pairs, so that a key named twice is noticed; a type of its own tells it from an array."""


DECODER = json.JSONDecoder(object_pairs_hook=_Pairs, parse_int=str, parse_float=str, parse_constant=str)


def _cell(value: Any) -> str | None:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    return json.dumps(value, ensure_ascii=False, sort_keys=True)


def _holds_nul(text: str, cells: dict[str, str | None]) -> bool:
    return NUL in text or ("\\u0000" in text and any(NUL in f"{key}{value}" for key, value in cells.items()))


def _batch(found: _Found) -> Batch:
    headers = tuple(sorted(found.keys))
    columns = {cell_name(k): [cells.get(header) for cells in found.objects] for k, header in enumerate(headers)}
    schema = {"line": pl.Int64, "text": pl.String} | dict.fromkeys(columns, pl.String)
    rows = pl.DataFrame({"line": found.lines, "text": found.texts, **columns}, schema=schema)
    lines, texts, reasons = zip(*found.aside, strict=True) if found.aside else ((), (), ())
    return Batch(headers, tidy_cells(rows), aside_rows(lines, texts, pl.Series(reasons, dtype=pl.String)))
