"""Nothing is lost between a file and the database, and the ledger says so itself."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import StoreError
from pipeline.ingest.ledger import open_tables
from pipeline.store import Store

EVENTS = "at,machine,event\n2031-03-01T20:00:00,VT1,roll\nx,VT1,roll\n2031-03-01T20:00:01,VT1,lock\n"


def _drop_one(monkeypatch, table: str) -> None:
    whole = Store.append

    def append(self: Store, name: str, frame: pl.DataFrame) -> None:
        whole(self, name, frame.head(-1) if name == table else frame)

    monkeypatch.setattr(Store, "append", append)


@pytest.mark.parametrize("table", ["raw_event_rows", "raw_set_aside", "raw_bookings"])
def test_a_row_dropped_on_the_way_is_noticed_and_nothing_is_written(site, monkeypatch, table: str) -> None:
    site.write("events/a.csv", EVENTS)
    _drop_one(monkeypatch, table)
    file = "bookings.csv" if table == "raw_bookings" else "events/a.csv"
    with pytest.raises(StoreError, match=f"^1 rows of {file} did not arrive"):
        site.load()
    assert site.dump() == {}


def test_a_row_lost_or_added_later_is_noticed_by_the_next_run(site) -> None:
    site.load()
    with Store(site.database) as store:
        store.run("insert into raw_tickets select * from raw_tickets")
    with pytest.raises(StoreError, match=r"^1 rows of tickets\.csv are too many"):
        site.load()
    with Store(site.database) as store:
        store.run("delete from raw_tickets")
    with pytest.raises(StoreError, match=r"^1 rows of tickets\.csv did not arrive"):
        site.load()


def test_rows_of_a_file_the_ledger_does_not_know_are_noticed(site) -> None:
    site.load()
    with Store(site.database) as store:
        store.run("update raw_tickets set file = 'tickets-ghost.csv'")
    with pytest.raises(StoreError, match="rows of tickets"):
        site.load()


def test_tables_have_the_columns_and_types_downstream_reads(tmp_path: Path) -> None:
    with Store(tmp_path / "a.duckdb") as store:
        open_tables(store)
        open_tables(store)
        columns = store.read(
            "select table_name, string_agg(column_name || ' ' || data_type, ', ' order by ordinal_position) as columns "
            "from information_schema.columns group by table_name"
        )
    found = dict(columns.iter_rows())
    assert found["source_files"] == (
        "file VARCHAR, feed VARCHAR, format VARCHAR, sha256 VARCHAR, size_bytes BIGINT, read_count BIGINT, "
        "missing_columns VARCHAR, reading VARCHAR, headers VARCHAR, is_mapped BOOLEAN"
    )
    assert found["raw_events"] == (
        "file VARCHAR, line BIGINT, text VARCHAR, at_text VARCHAR, stamped_at_utc TIMESTAMP, is_ambiguous BOOLEAN, "
        "stamp_digits TINYINT, machine VARCHAR, event VARCHAR, value DOUBLE, detail VARCHAR, extra VARCHAR"
    )
    assert found["raw_switches"] == (
        "file VARCHAR, line BIGINT, text VARCHAR, at_text VARCHAR, at_utc TIMESTAMP, is_ambiguous BOOLEAN, "
        "action VARCHAR, channel VARCHAR, from_machine VARCHAR, to_machine VARCHAR, reason VARCHAR, taken_by VARCHAR, "
        "extra VARCHAR"
    )
    assert found["raw_set_aside"] == "feed VARCHAR, file VARCHAR, line BIGINT, reason VARCHAR, text VARCHAR"


def test_the_engine_keeps_a_row_whose_cell_does_not_cast(tmp_path: Path) -> None:
    """DuckDB 2.0.0 and 2.0.1 push TRY_CAST into the CSV reader and drop such rows; a store's connection must not."""
    path = tmp_path / "a.csv"
    path.write_text("at\n2031-03-01 20:00:00\n31/02/2031 10:00\n2031-03-01 20:00:01\n")
    with Store(tmp_path / "a.duckdb") as store:
        read = (
            "select try_cast(stamp as timestamp) as stamped_at "
            "from read_csv(?, header = true, auto_detect = false, delim = ',', quote = '\"', escape = '\"', "
            "columns = {'stamp': 'VARCHAR'}, ignore_errors = true)"
        )
        frame = store.read(read, [str(path)])
    assert (frame.height, frame["stamped_at"].null_count()) == (3, 1)
