"""Proposals for the second sample room, whose tables another hand wrote: nothing proposed contradicts them."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from pipeline.ingest.propose import propose_table
from tests.ingest.propose.reading_back import accepted, table_of

ROOM = Path(__file__).parents[3] / "sample_logs" / "second_room"
FILES_OF_A_TABLE = 2
Table = dict[str, Any]


def _cases() -> list[tuple[Table, Path]]:
    tables: list[Table] = tomllib.loads((ROOM / "site.toml").read_text(encoding="utf-8"))["feeds"]
    found = []
    for table in tables:
        paths = [table["path"]] if isinstance(table["path"], str) else table["path"]
        for pattern in paths:
            found += [(table, path) for path in sorted(ROOM.glob(pattern))[:FILES_OF_A_TABLE]]
    return found


def _names(value: str | list[str]) -> set[str]:
    return {value} if isinstance(value, str) else set(value)


def _meant(table: Table, column: str, word: str) -> str | None:
    """What the written table makes of a word of theirs."""
    exact, begins, patterns = (table.get(key, {}).get(column, {}) for key in ("words", "begins", "patterns"))
    for theirs, ours in exact.items():
        if theirs.lower() == word.lower():
            return str(ours)
    starts = [theirs for theirs in begins if word.lower().startswith(theirs.lower())]
    if starts:
        return str(begins[max(starts, key=len)])
    return next((str(ours) for pattern, ours in patterns.items() if re.search(pattern, word)), None)


CASES = pytest.mark.parametrize(
    ("table", "path"), _cases(), ids=lambda each: each.name if isinstance(each, Path) else ""
)


@CASES
def test_kind_and_columns(table: Table, path: Path, tmp_path: Path) -> None:
    proposal = propose_table(path)
    assert [each.feed.name for each in accepted(proposal.text, tmp_path).tables] == [table["kind"]]
    mapped = table_of(proposal)["columns"]
    for theirs, ours in mapped.items():
        if theirs in table["columns"]:
            assert _names(ours) <= _names(table["columns"][theirs])


@CASES
def test_words(table: Table, path: Path) -> None:
    for column, words in table_of(propose_table(path)).get("words", {}).items():
        wanted = {theirs: _meant(table, column, theirs) for theirs in words}
        assert {theirs: ours for theirs, ours in words.items() if wanted[theirs] is not None} == {
            theirs: ours for theirs, ours in wanted.items() if ours is not None
        }


@CASES
def test_how_it_is_written(table: Table, path: Path) -> None:
    proposed = table_of(propose_table(path))
    for key in ("format", "encoding", "delimiter", "decimal", "thousands", "sheet", "header_row", "date_order"):
        if key in table and key in proposed:
            assert proposed[key] == table[key]


def test_most_columns_are_found(capsys: pytest.CaptureFixture[str]) -> None:
    found: Counter[str] = Counter(right=0, undecided=0)
    for table, path in _cases():
        mapped = table_of(propose_table(path))["columns"]
        for theirs in table["columns"]:
            found["right" if theirs in mapped else "undecided"] += 1
    with capsys.disabled():
        print(f"\ncolumns of the second room: {dict(found)}")
    assert found["right"] > found["undecided"]
