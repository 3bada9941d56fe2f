"""Compacting gives room back and changes no row; the order it leaves is that of machines and time."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.errors import StoreError
from pipeline.flow import run_site
from pipeline.keeping import compact
from pipeline.keeping.compacting import order_of
from pipeline.keeping.room import room_taken, told_room
from pipeline.places import DATABASE
from pipeline.store import Store
from tests.command.room import airhours
from tests.finished_room import quiet
from tests.keeping.tables import read_all, run_sql
from tests.safety.state import read_files


def swell(database: Path) -> None:
    """Rows come and go, and others stay behind them, so that the file keeps their room.

    800,000 of 32 hexadecimal digits, which hold 16 bytes each and pack no further: at least 12.8 MB.
    """
    run_sql(
        database,
        "create table gone as select md5(range::varchar) as text from range(800000)",
        "checkpoint",
        "create table stays as select md5(range::varchar) as text from range(10000)",
        "checkpoint",
        "drop table gone",
        "checkpoint",
    )


def test_room_is_given_back_and_every_table_keeps_its_rows(site: Path) -> None:
    compact(site)
    small = (site / DATABASE).stat().st_size
    swell(site / DATABASE)
    before, swollen = read_all(site / DATABASE), (site / DATABASE).stat().st_size
    assert swollen > small + 12_000_000
    done = compact(site)
    assert done.was_bytes == swollen
    assert done.is_bytes == (site / DATABASE).stat().st_size <= small + 2_000_000
    assert read_all(site / DATABASE) == before
    assert not list(site.glob(".airhours-*"))


@pytest.mark.slow
def test_nothing_is_new_after_it_and_what_is_made_anew_is_the_same(site: Path) -> None:
    files = {name: sum_ for name, sum_ in read_files(site).items() if name != DATABASE}
    compact(site)
    assert not run_site(site, narrate=quiet).is_changed
    tables = read_all(site / DATABASE)
    run_sql(site / DATABASE, "update run_seal set seal = 'of another program'")
    assert run_site(site, narrate=quiet).is_changed
    assert read_all(site / DATABASE) == tables
    assert {name: sum_ for name, sum_ in read_files(site).items() if name != DATABASE} == files


def test_events_stand_by_machine_and_time(site: Path) -> None:
    compact(site)
    with Store(site / DATABASE, read_only=True) as store:
        rows = store.read("select machine, stamped_at_utc, file, line from raw_event_rows order by rowid")
    assert rows.equals(rows.sort("machine", "stamped_at_utc", "file", "line"))


@pytest.mark.parametrize(
    ("columns", "keys", "wanted"),
    [
        (("file", "line", "machine", "stamped_at_utc"), (), ' order by "machine", "stamped_at_utc", "file", "line"'),
        (("file", "line", "at_utc"), (), ' order by "file", "line"'),
        (("month", "air_s"), ("month", "gone"), ' order by "month"'),
        (("seal",), (), ""),
    ],
)
def test_the_order_follows_the_names_of_columns(columns: tuple[str, ...], keys: tuple[str, ...], wanted: str) -> None:
    assert order_of("any", dict.fromkeys(columns, "VARCHAR"), {"any": keys}) == wanted


def test_views_and_rules_of_tables_are_kept(site: Path) -> None:
    run_sql(
        site / DATABASE,
        "create table ruled (no integer primary key, text varchar not null)",
        "insert into ruled values (2, 'b'), (1, 'a')",
        "create view told as select text from ruled",
    )
    compact(site)
    with Store(site / DATABASE) as store:
        assert store.read("select * from told order by all").rows() == [("a",), ("b",)]
        with pytest.raises(Exception, match=r"(?i)constraint"):
            store.run("insert into ruled values (1, 'c')")


def test_a_link_to_the_database_stays_a_link(site: Path) -> None:
    elsewhere = site.with_name("elsewhere.duckdb")
    (site / DATABASE).rename(elsewhere)
    (site / DATABASE).symlink_to(elsewhere)
    elsewhere.chmod(0o640)
    before = read_all(elsewhere)
    compact(site)
    assert (site / DATABASE).is_symlink()
    assert read_all(elsewhere) == before
    assert elsewhere.stat().st_mode & 0o777 == 0o640


def test_other_databases_are_refused_and_left(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="does not exist"):
        compact(tmp_path)
    run_sql(tmp_path / DATABASE, "create table stock as select 1 as part")
    before = (tmp_path / DATABASE).read_bytes()
    with pytest.raises(StoreError, match="holds no run of airhours"):
        compact(tmp_path)
    assert (tmp_path / DATABASE).read_bytes() == before


def test_the_room_taken_is_told(site: Path) -> None:
    """Bytes of the file over lines that could be read: both counted here without the program."""
    swell(site / DATABASE)
    size = (site / DATABASE).stat().st_size
    lines = len(read_all(site / DATABASE)["raw_events"][1])
    with Store(site / DATABASE, read_only=True) as store:
        room = room_taken(store)
    assert room["database_bytes"] == size
    assert room["event_lines"] == lines
    assert room["bytes_per_event_line"] == pytest.approx(size / lines)
    assert 4_000_000 < room["free_bytes"] < size
    missing = json.loads(airhours("loaded", site, "--missing", "--json").stdout)
    assert missing["room"] == room
    assert told_room(room) in airhours("loaded", site).stdout


def test_a_line_for_the_room() -> None:
    """3,000,000 bytes over 4,000 lines: 750 each."""
    room = {
        "database_bytes": 3_000_000,
        "archive_bytes": 0,
        "free_bytes": 0,
        "event_lines": 4_000,
        "bytes_per_event_line": 750.0,
    }
    assert told_room(room) == "3.0 MB, 750 bytes an event line (4000 lines)"
    room |= {"free_bytes": 262_144, "event_lines": 0, "bytes_per_event_line": None}
    assert told_room(room) == "3.0 MB; 0.3 MB of it free for airhours compact"


def test_archived_bytes_are_counted_too() -> None:
    """3,000,000 + 1,000,000 bytes over 4,000 lines: 1,000 each."""
    room = {"database_bytes": 3_000_000, "archive_bytes": 1_000_000, "free_bytes": 0, "event_lines": 4_000}
    room["bytes_per_event_line"] = 1000
    assert told_room(room) == "3.0 MB and 1.0 MB archived, 1000 bytes an event line (4000 lines)"


def test_the_command_says_what_it_did(site: Path) -> None:
    swell(site / DATABASE)
    told = json.loads(airhours("compact", site, "--json").stdout)
    assert told["is_bytes"] < told["was_bytes"]
    assert "bytes an event line" in airhours("compact", site).stdout
