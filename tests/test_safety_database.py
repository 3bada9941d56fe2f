"""A database that is not what it was: another program's, cut short, altered, of another version, or without its log."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.safety.folders import small_disk
from tests.safety.room import EVENTS, write_room
from tests.safety.servers import Server, Tables
from tests.safety.state import read_files

pytestmark = [pytest.mark.slow, pytest.mark.skipif(sys.platform == "win32", reason="forks")]

DATABASE = "airhours.duckdb"
MOVE = "away and run again: it is made anew from the feeds."


@dataclass(frozen=True)
class Loaded:
    """A site that was run, and what its tables are."""

    site: Path
    tables: Tables


@pytest.fixture(scope="module")
def loaded(server: Server, tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    site = write_room(tmp_path_factory.mktemp("loaded") / "site")
    assert server.run(site).is_done
    return Loaded(site, server.read_tables(site / DATABASE))


@pytest.fixture
def site(loaded: Loaded, tmp_path: Path) -> Path:
    return Path(shutil.copytree(loaded.site, tmp_path / "site"))


def is_made_anew(server: Server, loaded: Loaded, site: Path) -> None:
    """What the line says to do works: the file moved away, the next run leaves what the first one did."""
    for name in (DATABASE, f"{DATABASE}.wal"):
        path = site / name
        shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    assert server.run(site).is_done
    same_but_history(server.read_tables(site / DATABASE), loaded.tables)


def same_but_history(tables: Tables, wanted: Tables) -> None:
    """The tables that hold rows and figures; what loads there were, and when files were written, is another matter."""
    others = ("load_history", "source_file_times")
    assert tables.without(*others) == wanted.without(*others)
    assert tables.accounts == wanted.accounts


# --- other things with the database's name


def a_folder(path: Path) -> None:
    path.mkdir()


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


def nothing_in_it(path: Path) -> None:
    path.write_bytes(b"")


def another_engine(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("create table machines (machine text)")


def a_log(path: Path) -> None:
    path.write_text(EVENTS * 1_000, encoding="utf-8")


@pytest.mark.parametrize("make", [a_folder, a_pipe, nothing_in_it, another_engine, a_log])
def test_what_is_no_database_is_left_alone(
    server: Server, loaded: Loaded, site: Path, make: Callable[[Path], None]
) -> None:
    (site / DATABASE).unlink()
    make(site / DATABASE)
    before = read_files(site)
    assert f"{DATABASE} is not an airhours database. Move it {MOVE}" in server.run(site).refusal
    assert read_files(site) == before
    is_made_anew(server, loaded, site)


@pytest.mark.parametrize(
    "statements",
    [
        ("create table stock (part varchar)",),
        ("create table raw_events (theirs integer)", "create table raw_set_aside (theirs integer)"),
        ("create table source_files (name varchar)", "create table withdrawn_files (name varchar)"),
        ("create schema theirs", "create table theirs.stock (part varchar)"),
        ("create view stock as select 1 as part",),
    ],
)
def test_a_database_of_another_program_is_left_alone(server: Server, site: Path, statements: tuple[str, ...]) -> None:
    (site / DATABASE).unlink()
    server.alter(site / DATABASE, *statements)
    before = read_files(site)
    file = "events/VT1.csv"
    for command in (["run", site], ["retry", site], ["withdraw", site, file], ["withdraw", site, file, "--back"]):
        assert f"{DATABASE} is not an airhours database: it holds tables of another" in server.command(*command).refusal
        assert read_files(site) == before


# --- damage


def test_a_database_cut_short_anywhere(server: Server, loaded: Loaded, site: Path) -> None:
    whole, dice = (site / DATABASE).read_bytes(), random.Random(1)
    for length in [1, 11, 4_095, 4_096, 12_288, *(dice.randrange(len(whole)) for _ in range(7))]:
        (site / DATABASE).write_bytes(whole[:length])
        refusal = server.run(site).refusal
        assert DATABASE in refusal
        assert MOVE in refusal
        assert (site / DATABASE).read_bytes() == whole[:length]
    is_made_anew(server, loaded, site)


def test_a_database_with_an_altered_byte(server: Server, loaded: Loaded, site: Path) -> None:
    """Every block carries a sum of its bytes: whoever reads it notices, and nothing altered is taken for true."""
    whole, dice = (site / DATABASE).read_bytes(), random.Random(2)
    refused = 0
    for place in [*(dice.randrange(4_096) for _ in range(4)), *(dice.randrange(len(whole)) for _ in range(8))]:
        altered = bytearray(whole)
        altered[place] ^= 0x55
        (site / DATABASE).write_bytes(altered)
        ran = server.run(site)
        if ran.status:
            assert MOVE in ran.refusal
            refused += 1
        else:
            left = server.read_tables(site / DATABASE)
            assert left == loaded.tables or "checksum" in left.broken
    assert refused >= 3
    is_made_anew(server, loaded, site)


@pytest.fixture
def killed(server: Server, tmp_path: Path) -> Path:
    """A site whose first run was killed right after its commit: the rows are in the log beside the database."""
    twin, site = write_room(tmp_path / "twin"), write_room(tmp_path / "killed")
    names = [name for _, name, _ in server.run(twin).events]
    assert server.run(site, event=names.index("after commit")).status < 0
    assert (site / f"{DATABASE}.wal").stat().st_size > 10_000
    return site


def test_a_log_cut_short_is_a_commit_that_was_not(server: Server, loaded: Loaded, killed: Path) -> None:
    log, dice = killed / f"{DATABASE}.wal", random.Random(3)
    whole, base = log.read_bytes(), (killed / DATABASE).read_bytes()
    for length in [0, *(dice.randrange(len(whole)) for _ in range(4)), len(whole)]:
        (killed / DATABASE).write_bytes(base)
        log.write_bytes(whole[:length])
        shutil.rmtree(killed / "reports", ignore_errors=True)
        left = server.read_tables(killed / DATABASE)
        assert left.broken == ""
        assert bool(left.tables) == (length == len(whole))
        assert server.run(killed).is_done
        same_but_history(server.read_tables(killed / DATABASE), loaded.tables)


def test_a_log_whose_database_was_moved_away_is_not_taken_for_the_new_one_s(
    server: Server, loaded: Loaded, killed: Path
) -> None:
    (killed / DATABASE).unlink()
    assert server.run(killed).is_done
    same_but_history(server.read_tables(killed / DATABASE), loaded.tables)


def test_a_log_of_another_database_is_refused(server: Server, loaded: Loaded, site: Path) -> None:
    (site / f"{DATABASE}.wal").mkdir()
    assert f"{DATABASE} is damaged. Move it and {DATABASE}.wal {MOVE}" in server.run(site).refusal
    is_made_anew(server, loaded, site)


# --- other versions


@pytest.mark.parametrize(
    "statement",
    [
        "alter table source_files drop column missing_columns",
        "alter table source_files add column later varchar",
        "drop table run_seal",
        "delete from run_seal",
    ],
)
def test_the_ledger_of_another_version_is_made_anew(server: Server, loaded: Loaded, site: Path, statement: str) -> None:
    server.alter(site / DATABASE, statement)
    assert server.run(site).is_done
    same_but_history(server.read_tables(site / DATABASE), loaded.tables)


@pytest.mark.parametrize(
    "statement",
    [
        "alter table raw_event_rows drop column extra",
        "alter table raw_tickets add column later varchar",
        "alter table raw_event_rows alter column value type varchar",
        "alter table load_history drop column rows_count",
        "drop table raw_findings",
    ],
)
def test_rows_of_another_version_are_read_again(server: Server, loaded: Loaded, site: Path, statement: str) -> None:
    server.alter(site / DATABASE, statement)
    more = site / "events" / "more.csv"
    more.write_text(f"{EVENTS}2031-03-03T10:00:00,VT1,clean,,\n", encoding="utf-8")
    assert server.run(site).is_done
    more.unlink()
    assert server.run(site).is_done
    same_but_history(server.read_tables(site / DATABASE), loaded.tables)


@pytest.mark.parametrize(
    "statement", ["delete from raw_event_rows where line = 3", "insert into raw_event_rows from raw_event_rows"]
)
def test_rows_that_are_missing_or_too_many_are_noticed_by_the_next_run(
    server: Server, loaded: Loaded, site: Path, statement: str
) -> None:
    server.alter(site / DATABASE, statement)
    refusal = server.run(site).refusal
    assert "did not arrive" in refusal or "too many" in refusal
    is_made_anew(server, loaded, site)


# --- places


def test_a_link_to_a_database_is_followed(server: Server, loaded: Loaded, site: Path) -> None:
    elsewhere = site.with_name("elsewhere.duckdb")
    shutil.move(site / DATABASE, elsewhere)
    (site / DATABASE).symlink_to(elsewhere)
    assert "nothing new" in server.run(site).stderr
    elsewhere.unlink()
    assert server.run(site).is_done
    assert (site / DATABASE).is_symlink()
    same_but_history(server.read_tables(elsewhere), loaded.tables)
    (site / DATABASE).unlink()
    (site / DATABASE).symlink_to(DATABASE)
    assert DATABASE in server.run(site).refusal


def test_a_site_that_cannot_be_written(server: Server, loaded: Loaded, tmp_path: Path) -> None:
    """Nothing is written into the feeds' folder but what is asked for there."""
    disk = tmp_path / "disk"
    with small_disk(disk, 100_000) as resize:
        site = write_room(disk / "site")
        resize("ro")
        assert "reports cannot be written: read-only file system" in server.run(site).refusal
        assert "cannot be" in server.run(site, "--out", tmp_path / "out").refusal
        assert not (tmp_path / "out").exists()
        ran = server.run(site, "--out", tmp_path / "out", "--database", tmp_path / "other.duckdb")
        assert ran.is_done
    same_but_history(server.read_tables(tmp_path / "other.duckdb"), loaded.tables)


def test_a_folder_for_the_database_that_is_not_there(server: Server, site: Path, tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere" / "room.duckdb"
    assert "Make the folder, or name another." in server.run(site, "--database", nowhere).refusal
    assert not nowhere.parent.exists()
