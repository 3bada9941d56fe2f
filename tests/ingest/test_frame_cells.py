"""Typed columns as text cells: worked by hand, and against Python's own writing of times."""

# ruff: noqa: DTZ001 - the tables hold naive UTC

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.frame_cells import batch_of, elapsed_text, texts_of

AT = datetime(2031, 3, 9, 21, 4)
FINE = AT.replace(microsecond=250_000)
# Times, dates and UTC as ISO 8601 writes them
CASES = [
    (pl.Series([AT, FINE], dtype=pl.Datetime("ms")), ["2031-03-09T21:04:00", "2031-03-09T21:04:00.250"]),
    (pl.Series([AT, FINE], dtype=pl.Datetime("ns")), ["2031-03-09T21:04:00", "2031-03-09T21:04:00.250"]),
    (
        # Stockholm is an hour ahead of UTC in winter
        pl.Series([AT.replace(tzinfo=UTC)]).dt.convert_time_zone("Europe/Stockholm"),
        ["2031-03-09T21:04:00Z"],
    ),
    (pl.Series([date(2031, 3, 9)]), ["2031-03-09"]),
    (pl.Series([time(21, 4), time(21, 4, 0, 250_000)]), ["21:04:00", "21:04:00.250"]),
    (pl.Series([timedelta(hours=25, minutes=15), -timedelta(seconds=90)]), ["25:15:00", "-00:01:30"]),
    (pl.Series([3.0, 0.04, None]), ["3", "0.04", None]),
    (pl.Series([0.1], dtype=pl.Float32), ["0.1"]),
    (pl.Series([Decimal("1.50"), Decimal("12345678901234567890.10")]), ["1.50", "12345678901234567890.10"]),
    (pl.Series([9_223_372_036_854_775_807]), ["9223372036854775807"]),
    (pl.Series([True, False]), ["true", "false"]),
    (pl.Series(["a"], dtype=pl.Categorical), ["a"]),
    (pl.Series(["a"], dtype=pl.Enum(["b", "a"])), ["a"]),
    (pl.Series([{"k": ["é", "2"]}]), ['{"k": ["é", "2"]}']),
    (pl.Series([[FINE]]), ['["2031-03-09 21:04:00.250000"]']),
    (pl.Series([[1, 2]], dtype=pl.Array(pl.Int8, 2)), ["[1, 2]"]),
    (pl.Series([b" x "]), [" x "]),
    (pl.Series([None], dtype=pl.Null), [None]),
    (pl.Series(['{"a": 1}']).ext.to(pl.Extension("arrow.json", pl.String)), ['{"a": 1}']),
]


@pytest.mark.parametrize(("column", "expected"), CASES, ids=lambda value: str(getattr(value, "dtype", ""))[:40])
def test_a_typed_column_is_the_text_a_csv_would_have(column: pl.Series, expected: list[str | None]) -> None:
    texts, damaged = texts_of(column.alias("x").to_frame())
    assert texts["x"].to_list() == expected
    assert not damaged.any()


@given(st.integers(0, 86_399_999))
def test_a_time_of_day_is_what_python_writes(ms: int) -> None:
    at = (datetime(2031, 3, 9) + timedelta(milliseconds=ms)).time()
    assert _elapsed(ms) == at.isoformat("milliseconds" if at.microsecond else "seconds")


@given(st.integers(-(10**12), 10**12))
def test_a_time_that_has_passed_can_be_added_up_again(ms: int) -> None:
    sign, _, rest = _elapsed(ms).rpartition("-")
    hours, minutes, seconds = rest.split(":")
    assert (int(hours) * 3600 + int(minutes) * 60) * 1000 + round(float(seconds) * 1000) == abs(ms)
    assert (sign, _elapsed(ms).startswith("-")) == ("", ms < 0)


def _elapsed(ms: int) -> str:
    return pl.select(elapsed_text(pl.lit(ms, pl.Int64))).item()


def test_lines_texts_and_rows_that_are_no_text() -> None:
    frame = pl.DataFrame({"a": [b"x", b"\xff", b" y "], "b": ["1", "2", "n\x00l"]})
    batch = batch_of(frame, ("A", "B"), pl.Series([5, 7, 9]))
    assert batch.rows.rows() == [(5, '{"A":"x","B":"1"}', "x", "1")]
    assert [(line, text, reason[:20]) for line, text, reason in batch.aside.iter_rows()] == [
        (7, '{"A":"\\\\xff","B":"2"}', "The row holds bytes "),
        (9, '{"A":" y ","B":"n\\u0000l"}', "The row holds a NUL "),
    ]


def test_names_of_columns_are_never_read_as_patterns() -> None:
    batch = batch_of(
        pl.DataFrame({"^.*$": ["1"], "*": ["2"], "cell_0": ["3"]}), ("^.*$", "*", "cell_0"), pl.Series([1])
    )
    assert batch.rows.row(0) == (1, '{"^.*$":"1","*":"2","cell_0":"3"}', "1", "2", "3")
