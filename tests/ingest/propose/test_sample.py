"""The rows that a proposal is made on: bounded, whole lines, and in the file's own columns."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.propose.sample import MOST_COLUMNS, MOST_ROWS, Sample, TextStart, read_start, take_sample
from pipeline.ingest.text.csv_reader import read_csv


def _start(path: Path, text: str, encoding: str = "utf-8") -> tuple[FoundFile, TextStart]:
    path.write_bytes(text.encode(encoding))
    found = FoundFile(path, path.name, EVENTS, "csv", "")
    return found, read_start(found)


def _sample(found: FoundFile, start: TextStart) -> Sample:
    batches = read_csv(start.stream(), found.file, Dialect(",", encoding="utf-8"))
    return take_sample(batches, found.file, is_whole=start.is_whole)


def test_a_short_file_is_seen_whole(tmp_path: Path) -> None:
    found, start = _start(tmp_path / "a.csv", "a,b\r\n1,x\r\n2,x\r\n", "utf-16")
    assert start.lines == ["a,b", "1,x", "2,x", ""]
    sample = _sample(found, start)
    assert sample.is_whole
    assert [column.counts for column in sample.columns] == [{"1": 1, "2": 1}, {"x": 2}]


def test_a_long_file_is_cut_at_a_line(tmp_path: Path) -> None:
    found, start = _start(tmp_path / "a.csv", "a,b\n" + 'ä,"x"\n' * 20_000)
    sample = _sample(found, start)
    assert not sample.is_whole
    assert sample.batch.rows.height == MOST_ROWS
    assert sample.batch.aside.height == 0


def test_a_line_without_end_is_bounded(tmp_path: Path) -> None:
    _, start = _start(tmp_path / "a.csv", "a" * (9 << 20))
    assert len(start.data) == 8 << 20
    assert not start.is_whole


def test_only_so_many_columns_are_looked_at(tmp_path: Path) -> None:
    text = ",".join(f"c{k}" for k in range(400)) + "\n" + ",".join(["1"] * 400) + "\n"
    sample = _sample(*_start(tmp_path / "a.csv", text))
    assert (len(sample.columns), sample.passed_over) == (MOST_COLUMNS, 100)


def test_no_row_is_no_sample(tmp_path: Path) -> None:
    with pytest.raises(FeedError, match="holds no row"):
        _sample(*_start(tmp_path / "a.csv", "a,b\n"))


def test_cells_that_say_nothing_are_no_values(tmp_path: Path) -> None:
    sample = _sample(*_start(tmp_path / "a.csv", "a,b\n-,N/A\n1,n/a\n--,x\n"))
    assert sample.empty == (("-", 1), ("--", 1), ("n/a", 2))
    assert [column.counts for column in sample.columns] == [{"1": 1}, {"x": 1}]
