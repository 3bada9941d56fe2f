"""Parquet columns of every type a table of rows is likely to have, as cells."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import FeedError
from pipeline.ingest import parquet_reader
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.ingest.parquet_reader import MAGIC, read_parquet


def _read(tmp_path: Path, frame: pl.DataFrame):
    path = tmp_path / "a.parquet"
    frame.write_parquet(path)
    return list(read_parquet(FoundFile(path, "a.parquet", EVENTS, "parquet", "")))


def _cells(batch) -> list[tuple[str | None, ...]]:
    return batch.rows.drop("line", "text").rows()


def test_types_become_the_text_a_csv_would_have(tmp_path: Path) -> None:
    moment = datetime(2031, 3, 1, 20, 0, 0, 250_000)
    zoned = datetime(2031, 3, 1, 19, 0, tzinfo=UTC)
    frame = pl.DataFrame(
        {
            "ms": [moment],
            "whole": pl.Series([moment.replace(microsecond=0)], dtype=pl.Datetime("ns")),
            "zoned": pl.Series([zoned]).dt.convert_time_zone("Europe/Stockholm"),
            "day": [date(2031, 3, 1)],
            "number": [0.04],
            "id": [3.0],
            "count": [7],
            "money": [Decimal("1.50")],
            "flag": [True],
            "kind": pl.Series(["a"], dtype=pl.Categorical),
            "nested": [{"k": [1, 2]}],
            "bytes": [b" x "],
            "none": pl.Series([None], dtype=pl.Null),
        }
    )
    (batch,) = _read(tmp_path, frame)
    assert _cells(batch) == [
        (
            *("2031-03-01T20:00:00.250", "2031-03-01T20:00:00", "2031-03-01T19:00:00Z", "2031-03-01", "0.04", "3", "7"),
            *("1.50", "true", "a", '{"k": [1, 2]}', "x", None),
        )
    ]


def test_line_is_the_row_number_and_text_the_row(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(parquet_reader, "CELLS_IN_A_BATCH", 4)
    batches = _read(tmp_path, pl.DataFrame({"a": ["x", "y", "z"], "b": [1, 2, None]}))
    rows = [row for batch in batches for row in batch.rows.select("line", "text").rows()]
    assert rows == [(1, '{"a":"x","b":"1"}'), (2, '{"a":"y","b":"2"}'), (3, '{"a":"z","b":null}')]


def test_bytes_that_are_no_text_and_nul_are_set_aside(tmp_path: Path) -> None:
    (batch,) = _read(tmp_path, pl.DataFrame({"a": [b"x", b"\xff", b"y"], "b": ["1", "2", "n\x00l"]}))
    assert list(batch.rows["line"]) == [1]
    assert [(line, reason.split(" (")[0]) for line, _, reason in batch.aside.iter_rows()] == [
        (2, "The row holds bytes that are not UTF-8"),
        (3, "The row holds a NUL character"),
    ]


def test_no_rows_and_no_columns(tmp_path: Path) -> None:
    (batch,) = _read(tmp_path, pl.DataFrame(schema={"at": pl.String}))
    assert (batch.headers, batch.read_count) == (("at",), 0)
    assert [each.headers for each in _read(tmp_path, pl.DataFrame())] == [()]


ENDING = " Export it again, or move it out of the site folder."


@pytest.mark.parametrize(
    "content", [b"", b"PAR1", b"at,machine\n", b"PAR1 and then text", b"PAR1" + b"\x00" * 40 + b"PAR1"], ids=len
)
def test_a_file_that_is_no_parquet_is_one_plain_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.parquet"
    path.write_bytes(content)
    why = "it is a Parquet file, but its data are damaged or of a type that has no text"
    if len(content) < 12 or content[:4] != MAGIC or content[-4:] != MAGIC:
        why = "it is no Parquet file, or a part of one"
    assert _refusal(path) == f'"a.parquet" cannot be read: {why}.{ENDING}'


def test_a_file_whose_data_are_damaged_is_one_plain_line(tmp_path: Path) -> None:
    """All bytes between the two marks are turned over, one stretch at a time: whatever fails, the words are ours."""
    path = tmp_path / "a.parquet"
    pl.DataFrame({"a": [f"row {k}" for k in range(200)]}).write_parquet(path, compression="zstd")
    whole = path.read_bytes()
    refusals = set()
    for start in range(4, len(whole) - 4, 97):
        broken = bytes(byte ^ 0xFF for byte in whole[start : start + 40])
        path.write_bytes((whole[:start] + broken + whole[start + 40 :])[: len(whole) - 4] + MAGIC)
        refusals.add(_refusal(path))
    why = "it is a Parquet file, but its data are damaged or of a type that has no text"
    assert f'"a.parquet" cannot be read: {why}.{ENDING}' in refusals
    assert refusals <= {f'"a.parquet" cannot be read: {why}.{ENDING}', ""}


def test_a_file_that_is_not_there_is_one_plain_line(tmp_path: Path) -> None:
    assert _refusal(tmp_path / "a.parquet") == f'"a.parquet" cannot be read: No such file or directory.{ENDING}'


def _refusal(path: Path) -> str:
    try:
        list(read_parquet(FoundFile(path, "a.parquet", EVENTS, "parquet", "")))
    except FeedError as error:
        return str(error)
    return ""
