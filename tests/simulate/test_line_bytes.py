"""Lines built from tables of digits are what a slow writer gives."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.simulate import line_bytes
from pipeline.simulate.line_bytes import line_texts, same_lines, woven

EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - the stamp's Z is written beside it
LAST_US = 7_258_118_400_000_000  # 1 January 2200


def slow(at: int) -> str:
    """The standard library's answer."""
    return (EPOCH + timedelta(microseconds=at)).isoformat(timespec="microseconds")


@given(st.lists(st.integers(0, LAST_US), min_size=1, max_size=5).map(sorted))
def test_stamps_are_those_of_the_standard_library(instants: list[int]) -> None:
    near = [at for at in instants if at - instants[0] < 86_400_000_000 * 100]
    lines = bytes(same_lines(np.array(near), b",VT01,alive,,\n")).decode()
    assert lines == "".join(f"{slow(at)}Z,VT01,alive,,\n" for at in near)


def test_no_instant_gives_no_line() -> None:
    assert bytes(same_lines(np.zeros(0, np.int64), b",VT01,alive,,\n")) == b""


def test_other_lines_are_written_on_the_machines_own_clock() -> None:
    rows = pl.DataFrame({"at": [10], "event": ["offset"], "value": ["0.004"], "detail": ["VT02"]})
    assert rows.select(line_texts("VT01", 42_000_000)).item() == "1970-01-01T00:00:42.000010Z,VT01,offset,0.004,VT02\n"


@pytest.mark.parametrize("block", [1, 2, 100])
@pytest.mark.parametrize(
    ("places", "expected"),
    [([], "abc"), ([0, 1, 1, 3], "0a12bc3"), ([3, 3], "abc01"), ([0, 0], "01abc"), ([2, 2, 3], "ab01c2")],
)
def test_texts_are_woven_in_before_their_place(
    places: list[int], expected: str, block: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(line_bytes, "BLOCK", block)
    lines = {f"{slow(number)}Z\n": letter for number, letter in enumerate("abc")}
    texts = [f"{number}\n" for number in range(len(places))]
    told = b"".join(woven(np.arange(3), b"\n", np.array(places, np.int64), texts)).decode()
    assert "".join(lines.get(line, line.strip()) for line in told.splitlines(keepends=True)) == expected


def test_texts_alone_are_written_too() -> None:
    nothing = np.zeros(0, np.int64)
    assert b"".join(woven(nothing, b"\n", np.zeros(2, np.int64), ["one\n", "two\n"])) == b"one\ntwo\n"
