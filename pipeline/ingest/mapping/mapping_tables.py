"""The mapping keys of a [[feeds]] table, checked against our columns and words: a mistyped one is not passed over."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

import polars as pl
from polars.exceptions import PolarsError

from pipeline.errors import SiteError, wrong_setting
from pipeline.ingest.feeds import Column, Feed
from pipeline.ingest.mapping.mapping import Mapping, Words, group_names

SHORTEST_BEGINNING = 1


def read_mapping(values: dict[str, Any], feed: Feed, where: str) -> Mapping:
    """The keys columns, parts, constants, words, begins, patterns and empty of one [[feeds]] table.

    Raises:
        SiteError: a column that is not ours, a word that is not ours, a pattern that cannot be read.
    """
    parts = tuple(_parts(values, where))
    return Mapping(
        columns=tuple(_columns(values, feed, where)),
        parts=parts,
        part_names=tuple(
            dict.fromkeys(name for _, each in parts for pattern in each for _, name in group_names(pattern))
        ),
        constants=tuple(_constants(values, feed, where)),
        words=tuple(_words(values, feed, where)),
        empty=_empty(values, where),
    )


def _empty(values: dict[str, Any], where: str) -> tuple[str, ...]:
    given = values.get("empty", [])
    if not isinstance(given, list) or not all(isinstance(cell, str) and cell.strip() for cell in given):
        raise wrong_setting(where, "empty", given, 'a list of cells that say nothing, such as ["-", "n/a"]')
    return tuple(cell.strip().lower() for cell in given)


def _columns(values: dict[str, Any], feed: Feed, where: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    for theirs, given in _table(values, "columns", where).items():
        named = [given] if isinstance(given, str) else given
        if not isinstance(named, list) or not named or not all(isinstance(ours, str) for ours in named):
            raise wrong_setting(where, f"columns, {theirs}", given, "one of our columns as a text, or a list of them")
        for ours in named:
            _column(feed, ours, where, f'columns, "{theirs}"')
        yield theirs.strip(), tuple(named)


def _parts(values: dict[str, Any], where: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    for theirs, given in _table(values, "parts", where).items():
        patterns = [given] if isinstance(given, str) else given
        if not isinstance(patterns, list) or not all(isinstance(pattern, str) for pattern in patterns):
            raise wrong_setting(where, f"parts, {theirs}", given, "a pattern in single quotes, or a list of them")
        for pattern in patterns:
            _check_pattern(pattern, where, f"parts, {theirs}")
            if not group_names(pattern):
                raise wrong_setting(
                    where, f"parts, {theirs}", pattern, "a pattern with named groups such as (?P<value>[0-9]+)"
                )
        yield theirs.strip(), tuple(patterns)


def _constants(values: dict[str, Any], feed: Feed, where: str) -> Iterator[tuple[str, str]]:
    for ours, value in _table(values, "constants", where).items():
        _column(feed, ours, where, "constants")
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise wrong_setting(where, f"constants, {ours}", value, "a text or a number")
        yield ours, str(value)


def _words(values: dict[str, Any], feed: Feed, where: str) -> Iterator[Words]:
    exact, begins, patterns = (_table(values, key, where) for key in ("words", "begins", "patterns"))
    for name in dict.fromkeys((*exact, *begins, *patterns)):
        key = next(key for key in ("words", "begins", "patterns") if name in values.get(key, {}))
        column = _column(feed, name, where, key)
        whole = [(theirs.strip().lower(), ours) for theirs, ours in _vocabulary(exact, column, f"{where}, words")]
        starts = [(theirs.strip().lower(), ours) for theirs, ours in _vocabulary(begins, column, f"{where}, begins")]
        for theirs, _ in starts:
            if len(theirs) < SHORTEST_BEGINNING:
                raise wrong_setting(where, f"begins.{name}", theirs, "a beginning of at least one character")
        found = list(_vocabulary(patterns, column, f"{where}, patterns"))
        for pattern, _ in found:
            _check_pattern(pattern, where, f"patterns.{name}")
        starts.sort(key=lambda pair: (-len(pair[0]), pair[0]))
        yield Words(name, tuple(dict(whole).items()), tuple(starts), tuple(found))


def _vocabulary(tables: dict[str, Any], column: Column, where: str) -> Iterator[tuple[str, str]]:
    given = tables.get(column.name, {})
    if not isinstance(given, dict):
        raise wrong_setting(
            where, column.name, given, f'a table of their words and ours, such as {{ "X" = "{_some(column)}" }}'
        )
    for theirs, ours in given.items():
        if not isinstance(ours, str) or (ours and column.words and ours not in column.words):
            allowed = f"one of {', '.join(column.words)}" if column.words else "a text"
            raise wrong_setting(where, f'{column.name}, "{theirs}"', ours, f'{allowed}, or "" for of no interest')
        yield theirs, ours


def _some(column: Column) -> str:
    return column.words[0] if column.words else "Y"


def _column(feed: Feed, name: str, where: str, key: str) -> Column:
    for column in feed.columns:
        if column.name == name:
            return column
    names = [column.name for column in feed.columns]
    near = get_close_matches(name, names, n=1)
    hint = f" Did you mean {near[0]}?" if near else f" Ours are: {', '.join(names)}."
    turned = " Columns are written theirs = ours." if key.startswith("columns") else ""
    raise SiteError(f'{where}, {key}: "{name}" is no column of {feed.name}.{hint}{turned}')


def _check_pattern(pattern: str, where: str, key: str) -> None:
    try:
        pl.Series([""]).str.extract_groups(pattern)
    except (PolarsError, ValueError):
        allowed = "a regular expression (no look-around, no back-references) that can be read"
        raise wrong_setting(where, key, pattern, allowed) from None


def _table(values: dict[str, Any], key: str, where: str) -> dict[str, Any]:
    given = values.get(key, {})
    if not isinstance(given, dict):
        raise SiteError(f"{where}, key {key}: expected a table, begun with a line [feeds.{key}].")
    return given
