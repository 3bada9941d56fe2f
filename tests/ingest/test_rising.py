"""What need not be looked at for repeats, by hand; tests/ingest/test_repeats.py holds the search against a full one."""

from __future__ import annotations

from datetime import datetime, timedelta

import polars as pl

from pipeline.ingest import rising
from pipeline.ingest.rising import Rising

NOON = datetime(2031, 3, 1, 12)  # noqa: DTZ001 - naive UTC


def _at(second: int) -> datetime:
    return NOON + timedelta(seconds=second)


def _rows(machine: str, *seconds: int) -> pl.DataFrame:
    at = pl.Series([_at(second) for second in seconds], dtype=pl.Datetime("us"))
    return pl.DataFrame({"stamped_at_utc": at, "machine": [machine] * len(seconds)})


def _late(noted: Rising) -> list[datetime]:
    return pl.Series(noted.late()).cast(pl.Datetime("us")).to_list()


def test_stamps_that_do_not_rise_are_told_over_batches() -> None:
    noted = Rising()
    noted.note("a", _rows("VT1", 1, 3, 2, 3, 5))
    noted.note("a", _rows("VT1", 5, 4, 6))
    assert _late(noted) == [_at(2), _at(3), _at(4), _at(5)]
    assert noted.spans() == []
    assert noted.reach() == (_at(1), _at(6))


def test_files_of_one_machine_that_overlap_are_looked_at_where_they_do() -> None:
    noted = Rising()
    noted.note("a", _rows("VT1", 0, 10))
    noted.note("b", _rows("VT1", 10, 20))
    noted.note("c", _rows("VT2", 5, 15))
    noted.note("d", _rows("VT1", 12, 14))
    assert sorted(noted.spans()) == [(_at(10), _at(10)), (_at(12), _at(14))]
    assert sorted(noted.meets("VT1", _at(13), _at(30))) == [(_at(13), _at(14)), (_at(13), _at(20))]
    assert list(noted.meets("VT3", _at(0), _at(30))) == []


def test_a_file_in_no_order_is_looked_at_as_a_whole(monkeypatch) -> None:
    monkeypatch.setattr(rising, "MANY", 2)
    noted = Rising()
    noted.note("a", _rows("VT1", 9, 8, 7, 6))
    assert (noted.spans(), _late(noted)) == ([(_at(6), _at(9))], [])
    noted.note("a", _rows("VT1", *range(20, 100)))
    assert (noted.spans(), _late(noted)) == ([(_at(6), _at(99))], [])
    noted.forget("a")
    assert noted.spans() == []
