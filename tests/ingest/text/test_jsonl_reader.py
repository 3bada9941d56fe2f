"""JSON Lines: the values of RFC 8259 as cells, and lines that are no object."""

from __future__ import annotations

import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.text import jsonl_reader
from pipeline.ingest.text.jsonl_reader import read_jsonl


def _read(data: bytes) -> tuple[list[dict[str, str | None]], list[tuple[int, str]], list[int]]:
    rows: list[dict[str, str | None]] = []
    aside: list[tuple[int, str]] = []
    lines: list[int] = []
    for batch in read_jsonl(io.BytesIO(data), "a.jsonl"):
        names = dict(zip(batch.rows.columns[2:], batch.headers, strict=True))
        rows += batch.rows.drop("line", "text").rename(names).to_dicts()
        lines += batch.rows["line"].to_list()
        aside += [(line, reason) for line, _, reason in batch.aside.iter_rows()]
    return rows, aside, lines


def test_values_become_cells_and_numbers_keep_their_digits() -> None:
    data = (
        b'{"a": 1.50, "b": 12345678901234567890, "c": true, "d": null, "e": " x ", "f": "", '
        b'"g": {"k": [1, "\xc3\xa9"]}}\n'
    )
    rows, aside, lines = _read(data)
    expected = {
        "a": "1.50",
        "b": "12345678901234567890",
        "c": "true",
        "d": None,
        "e": "x",
        "f": None,
        "g": '{"k": [1, "é"]}',
    }
    assert (rows, aside, lines) == ([expected], [], [1])


def test_keys_may_differ_from_line_to_line() -> None:
    assert _read(b'{"a":1}\n\n{"b":2}')[0::2] == ([{"a": "1", "b": None}, {"a": None, "b": "2"}], [1, 3])


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b"[1]", "no JSON object"),
        (b"3", "no JSON object"),
        (b" ", "no JSON object"),
        (b'{"a":1} x', "no JSON object"),
        (b'{"a":1', "no JSON object"),
        (b'{"a":"\\ud800"}', "no JSON object"),
        (b'{"\\udfff":1}', "no JSON object"),
        (b'{"a":' + b"[" * 100_000 + b"}", "no JSON object"),
        (b'{"a":1,"a":2}', "names a key twice"),
        (b'{"a":1," a":2}', "names a key twice"),
        (b'{"a":"\\u0000"}', "NUL"),
        (b'{"a":"\xff"}', "not UTF-8"),
    ],
)
def test_a_line_that_is_no_row_is_set_aside(line: bytes, words: str) -> None:
    rows, aside, _ = _read(line + b'\n{"a":"b"}\n')
    assert rows == [{"a": "b"}]
    assert [number for number, _ in aside] == [1]
    assert words in aside[0][1]


def test_wide_objects_are_read_in_smaller_batches(monkeypatch) -> None:
    monkeypatch.setattr(jsonl_reader, "CELLS_IN_A_BATCH", 6)
    data = b"".join(b'{"a%d":1}\n' % k for k in range(20))
    assert _read(data)[2] == list(range(1, 21))
    with pytest.raises(FeedError, match="columns"):
        _read(json.dumps({f"k{k}": k for k in range(10_001)}).encode())


# Python's strip takes the separators U+001C to U+001F for white space; Unicode's White_Space property does not.
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\x1c\x1d\x1e\x1f"), max_size=5)
VALUE = st.none() | st.booleans() | st.integers() | TEXT


@settings(deadline=None)
@given(st.dictionaries(TEXT.map(str.strip), VALUE, max_size=4))
def test_any_flat_object_is_a_row_or_set_aside(value: dict[str, object]) -> None:
    rows, aside, _ = _read(json.dumps(value).encode())
    assert len(rows) + len(aside) == 1
    if rows:
        assert {key for key, cell in rows[0].items() if cell is not None} == {
            key or "unnamed" for key, cell in value.items() if cell is not None and str(cell).strip()
        }
