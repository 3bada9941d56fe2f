"""Tables too long for the memory, read in parts: together they are the whole, in its order."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipeline import long_tables, outputs
from pipeline.store import Store

# Feed, file, rows, lines apart: files that fit into a part together, and some that are longer than a part.
FILES = [("bookings", "b.csv", 3, 1), ("events", "a.csv", 4, 1), ("events", "b.csv", 25_000, 3)]
FILES += [("events", "c.csv", 6, 9_999), ("events", "d.csv", 5, 20_000), ("tickets", "é'.csv", 12_000, 1)]
ORDER = ["feed", "file", "line"]


@pytest.fixture
def store(tmp_path: Path) -> Store:
    opened = Store(tmp_path / "a.duckdb")
    rows = [(feed, file, 1 + k * apart, f"why {k}", "x" * (k % 40)) for feed, file, n, apart in FILES for k in range(n)]
    frame = pl.DataFrame(rows, schema=["feed", "file", "line", "reason", "text"], orient="row")
    opened.write("core_set_aside", frame.sample(fraction=1, shuffle=True, seed=1))
    return opened


def whole(store: Store) -> pl.DataFrame:
    return store.read("select * from core_set_aside").sort(ORDER)


@pytest.mark.parametrize(("rows", "size"), [(10_000, 1 << 30), (1, 1), (13_000, 200_000), (20, 1 << 30)])
def test_the_parts_are_the_whole_in_order(store: Store, monkeypatch: pytest.MonkeyPatch, rows: int, size: int) -> None:
    monkeypatch.setattr(long_tables, "PART_ROWS", rows)
    monkeypatch.setattr(long_tables, "PART_BYTES", size)
    parts = list(long_tables.read_set_aside(store))
    assert len(parts) > 5
    assert max(part.height for part in parts) <= max(rows, 10_000), "a stretch of 10,000 lines is never cut"
    assert pl.concat(parts).equals(whole(store))


def test_few_rows_are_one_part_and_so_are_none(store: Store) -> None:
    (part,) = long_tables.read_set_aside(store)
    assert part.equals(whole(store))
    store.run("delete from core_set_aside")
    assert [each.height for each in long_tables.read_set_aside(store)] == [0]


def test_a_table_written_in_parts_is_the_table(store: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    outputs._write_table(tmp_path / "once", [whole(store)])
    monkeypatch.setattr(long_tables, "PART_ROWS", 10_000)
    for name in ("parts", "again"):
        outputs._write_table(tmp_path / name, long_tables.read_set_aside(store))
    assert (tmp_path / "parts.csv").read_bytes() == (tmp_path / "once.csv").read_bytes()
    assert pl.read_parquet(tmp_path / "parts.parquet").equals(whole(store))
    assert (tmp_path / "parts.parquet").read_bytes() == (tmp_path / "again.parquet").read_bytes()
    assert not list(tmp_path.glob("*.part"))
