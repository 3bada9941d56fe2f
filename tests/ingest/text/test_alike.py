"""Lines known by their words are those that a slow reader finds, with the stamps that the standard library reads."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.text import alike
from pipeline.ingest.text.alike import sift

EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - a wall time
ALIVE, LOCK = "VT1,alive,,", "VT2,lock,,a detail longer than two words".replace(" ", "_")


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blocks of a few lines are looked at, in pieces of one or two."""
    monkeypatch.setattr(alike, "LEAST_STEP", 1)
    monkeypatch.setattr(alike, "PIECE_BYTES", 70)


def _bytes(lines: list[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode()


def test_lines_are_told_by_hand() -> None:
    lines = [
        f"2031-03-01T20:59:59.250Z,{ALIVE}",
        f"2031-03-01T21:00:00.750Z,{LOCK}",
        "2031-03-01T21:00:01.000Z,VT1,offset,0.01,",  # an ending that comes once
        f"2031-02-29T21:00:01.000Z,{ALIVE}",  # no such day
        f"2031-03-01T21:60:01.000Z,{ALIVE}",  # no such minute
        f"2031-03-01T24:00:01.000Z,{ALIVE}",  # no such hour
        f"2031-03-01T21:00:0x.000Z,{ALIVE}",
        f"2031-03-01T21:00:01.000,{ALIVE}",  # another layout
        f"2032-02-29T00:00:00.001Z,{ALIVE}",
        f"2031-03-01T21:00:02.000Z,{ALIVE}x",
        *[f"2031-03-01T21:00:03.000Z,{ALIVE}", f"2031-03-01T21:00:04.000Z,{LOCK}"] * 6,
    ]
    found, rest, numbers = sift(_bytes(lines), ",", 5, 100)
    assert found is not None
    assert found.lines.tolist() == [100, 101, 108, *range(110, 122)]
    assert rest == _bytes([*lines[2:8], lines[9]])
    assert numbers.tolist() == [*range(102, 108), 109]
    assert set(found.endings) == {ALIVE, LOCK}
    # 1 March 2031 is day 22,339 since 1970, 29 February 2032 day 22,704 (61 years: 22,280 days to 1 January 2031, from
    # the standard library's date.toordinal; 59 more to 1 March; then 365).
    day_us = 86_400_000_000
    assert found.walls.wall_us[:3].tolist() == [
        22_339 * day_us + 75_599_250_000,
        22_339 * day_us + 75_600_750_000,
        22_704 * day_us + 1000,
    ]
    assert found.rows(np.array([1])).rows() == [
        (101, None, "2031-03-01T21:00:00.750Z", "VT2", "lock", None, "a_detail_longer_than_two_words")
    ]


def test_what_is_not_alike_is_left_as_it_is() -> None:
    others = _bytes([f"2031-03-01T21:00:00Z,VT1,offset,0.{number}," for number in range(200)])
    for data in (b"", b"x\n", others, _bytes([f"2031-03-01T21:00:00Z,{ALIVE}", ""] * 3 + ["a"] * 30)):
        found, rest, numbers = sift(data, ",", 5, 7)
        assert (found, rest, numbers.tolist()) == (None, data, list(range(7, 7 + data.count(b"\n"))))


STAMP = st.builds(
    lambda at, letter, digits, ending: (
        f"{at:%Y-%m-%d}{letter}{at:%H:%M:%S}" + (f".{at:%f}"[: digits + 1] if digits else "") + ending
    ),
    st.datetimes(datetime(1900, 1, 1), datetime(2199, 12, 31)),  # noqa: DTZ001
    st.sampled_from("TTT "), st.sampled_from([0, 3, 6, 6]), st.sampled_from(["Z", "Z", "", "+01:00"]),
)  # fmt: skip
LINE = st.builds(
    lambda stamp, ending: f"{stamp},{ending}", STAMP, st.sampled_from([ALIVE, ALIVE, LOCK, "x", "a,b,c,d"])
)
ODD = st.text(st.sampled_from('2031-T:Z., ä"\tVT1alive'), max_size=40)


@settings(max_examples=200)
@given(st.lists(LINE | ODD, max_size=60), st.sampled_from([60, 300, 1 << 20]))
def test_every_line_goes_one_way_and_comes_back(lines: list[str], piece: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(alike, "PIECE_BYTES", piece)
        found, rest, numbers = sift(_bytes(lines), ",", 5, 1)
    assert rest == _bytes([lines[number - 1] for number in numbers.tolist()])
    taken = found.lines.tolist() if found else []
    assert sorted([*numbers.tolist(), *taken]) == list(range(1, len(lines) + 1))
    if found is None:
        return
    rows = found.rows(np.arange(len(taken)))
    for number, wall_us, (_, text, stamp, *cells) in zip(taken, found.walls.wall_us.tolist(), rows.rows(), strict=True):
        assert text is None
        assert lines[number - 1] == ",".join([stamp, *(cell or "" for cell in cells)])
        wall = datetime.fromisoformat(stamp).replace(tzinfo=None)
        assert EPOCH + timedelta(microseconds=wall_us) == wall
