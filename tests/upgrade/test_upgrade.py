"""A database of an older version keeps its rows, ledger, withdrawals and history; a newer one is refused.

tests/upgrade/version_N holds the database that a program of schema version N left of a small invented room, as SQL, and
the room beside it. Version 1 was written by the program as it stood before the schema had a number: it loaded the room
without events/VT2.csv, then with it, then withdrew events/VT3.csv.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.answers import read_files
from pipeline.errors import FeedError, StoreError
from pipeline.flow import Request, run_site
from pipeline.ingest.ledger import TABLES
from pipeline.keeping import back_up, compact
from pipeline.places import DATABASE
from pipeline.store import Store
from pipeline.upgrade.bringing_up import bring_up
from pipeline.upgrade.steps import STEPS
from pipeline.upgrade.versions import SCHEMAS, VERSION, refuse_newer, schema_of, state_version, version_of
from tests.finished_room import quiet, run_without_pages
from tests.keeping.tables import read_all, run_sql

HERE = Path(__file__).resolve().parent
OLD = sorted(int(path.name.removeprefix("version_")) for path in HERE.glob("version_*"))
# What differs where rows are the same.
MADE_OF_LOADS = {"load_history", "page_times", "source_file_times", "run_seal", "schema_version"}


def old_site(folder: Path, version: int = 1) -> Path:
    """The room with the database that the program of that version left."""
    site = Path(shutil.copytree(HERE / f"version_{version}" / "room", folder))
    run_sql(site / DATABASE, (HERE / f"version_{version}" / "database.sql").read_text(encoding="utf-8"))
    return site


def leave_no_exports(site: Path) -> None:
    for path in site.iterdir():
        if path.name not in {"site.toml", DATABASE}:
            shutil.rmtree(path) if path.is_dir() else path.unlink()


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The room loaded by this program alone, and the same file withdrawn."""
    site = Path(shutil.copytree(HERE / "version_1" / "room", tmp_path_factory.mktemp("fresh") / "site"))
    with Store(site / DATABASE) as store, store.transaction():
        from pipeline.ingest import load_site
        from pipeline.settings import read_settings

        load_site(site, read_settings(site), store)
    run_without_pages(site, request=Request(withdraw="events/VT3.csv"))
    return site


def test_every_version_has_its_step_its_schema_and_a_database_to_try_it_on() -> None:
    assert sorted(STEPS) == list(range(2, VERSION + 1))
    assert sorted(int(path.stem.removeprefix("version_")) for path in SCHEMAS.iterdir()) == list(range(1, VERSION + 1))
    assert list(range(1, VERSION)) == OLD


def test_the_schema_has_not_changed_without_a_new_version() -> None:
    """Whoever changes a table of the loading raises the version and writes the step that keeps the rows."""
    stated = {"schema_version": {"version": "BIGINT"}}
    assert schema_of(VERSION) == {table: dict(columns) for table, columns in TABLES} | stated


@pytest.mark.parametrize("version", OLD)
def test_a_database_of_an_older_version_is_what_its_schema_says(tmp_path: Path, version: int) -> None:
    with Store(old_site(tmp_path / "site", version) / DATABASE) as store:
        assert version_of(store) == version
        there = store.tables()
    assert {table: there[table] for table in schema_of(version)} == schema_of(version)


@pytest.mark.parametrize("version", OLD)
def test_steps_keep_every_row_of_the_loading(tmp_path: Path, version: int) -> None:
    database = old_site(tmp_path / "site", version) / DATABASE
    before = read_all(database)
    with Store(database) as store, store.transaction():
        (told,) = bring_up(store)
        assert f"version {version}" in told
        assert version_of(store) == VERSION
        assert bring_up(store) == ()
    after = read_all(database)
    with Store(database) as store:
        assert {table: store.tables()[table] for table in schema_of(VERSION)} == schema_of(VERSION)
    assert after.pop("schema_version")[1] == [(VERSION,)]
    for table, (columns, rows) in before.items():
        names = [name for name, _ in after[table][0]]  # a table may have become a view
        kept = [tuple(row[names.index(name)] for name, _ in columns) for row in after[table][1]]
        assert sorted(map(repr, kept)) == sorted(map(repr, rows)), table


@pytest.mark.parametrize("version", OLD)
def test_an_older_database_with_its_exports_becomes_what_a_fresh_load_is(
    tmp_path: Path, fresh: Path, version: int
) -> None:
    site = old_site(tmp_path / "site", version)
    before = read_all(site / DATABASE)
    run_sql(
        site / DATABASE, "create table core_no_longer_made as select 1 as one", "create view clean_events as select 2"
    )
    told: list[str] = []
    run_without_pages(site, narrate=told.append)
    assert f"version {version}" in told[0]
    now, wanted = read_all(site / DATABASE), read_all(fresh / DATABASE)
    assert now.keys() == wanted.keys()
    for table in wanted.keys() - MADE_OF_LOADS:
        assert now[table] == wanted[table], table
    assert now["schema_version"] == wanted["schema_version"]
    assert set(before["load_history"][1]) < set(now["load_history"][1])  # what loads there were, and this one


@pytest.mark.parametrize("version", OLD)
def test_an_older_database_without_exports_keeps_its_rows_and_answers(
    tmp_path: Path, fresh: Path, version: int
) -> None:
    site = old_site(tmp_path / "site", version)
    leave_no_exports(site)
    before = read_all(site / DATABASE)
    result = run_site(site, narrate=quiet, request=Request(rows_only=True))
    assert result.index.is_file()
    # The readers' word of an old row stays the old one: where its export comes again, it is read again.
    now, wanted = read_all(site / DATABASE, without=["reading"]), read_all(fresh / DATABASE, without=["reading"])
    for table in wanted.keys() - MADE_OF_LOADS:
        assert now[table] == wanted[table], table
    assert now["load_history"] == before["load_history"]
    # 11 + 3 lines of events, 3 of the selector, 1 ticket, 3 bookings, 2 machines, 1 ruling; VT3 is withdrawn
    assert read_files(site)["read_count"].sum() == 24


def test_a_run_that_fails_leaves_the_older_version(tmp_path: Path) -> None:
    site = old_site(tmp_path / "site")
    leave_no_exports(site)
    before = read_all(site / DATABASE)
    with pytest.raises(FeedError, match="No events found"):
        run_site(site, narrate=quiet)
    assert read_all(site / DATABASE) == before


def test_a_database_of_no_known_version_is_left_to_the_loading(tmp_path: Path) -> None:
    database = old_site(tmp_path / "site") / DATABASE
    run_sql(database, "alter table raw_events drop column extra")
    with Store(database) as store:
        assert bring_up(store) == ()
        assert not store.has("schema_version")


def test_rows_alone_are_refused_where_there_are_none(tmp_path: Path) -> None:
    site = Path(shutil.copytree(HERE / "version_1" / "room", tmp_path / "site"))
    with pytest.raises(StoreError, match=r"holds no rows\. Run airhours run first"):
        run_site(site, narrate=quiet, request=Request(rows_only=True))
    assert not (site / DATABASE).exists()


def test_a_newer_database_is_refused_in_one_sentence_and_left_alone(tmp_path: Path) -> None:
    site = old_site(tmp_path / "site")
    run_sql(site / DATABASE, f"create table schema_version as select {VERSION + 1}::bigint as version")
    before = read_all(site / DATABASE)
    for ask in (
        lambda: run_site(site, narrate=quiet),
        lambda: run_site(site, narrate=quiet, request=Request(rows_only=True)),
        lambda: read_files(site),
        lambda: back_up(site, tmp_path / "room.zip"),
        lambda: compact(site),
    ):
        with pytest.raises(StoreError) as refused:
            ask()
        assert f"is version {VERSION + 1}, and this program knows those up to {VERSION}" in str(refused.value)
        assert "\n" not in str(refused.value)
    assert read_all(site / DATABASE) == before
    assert not (tmp_path / "room.zip").exists()


def test_the_version_is_written_once(tmp_path: Path) -> None:
    with Store(old_site(tmp_path / "site") / DATABASE) as store:
        state_version(store)
        refuse_newer(store)
        assert store.read("from schema_version").rows() == [(VERSION,)]
        state_version(store)
        assert store.read("from schema_version").rows() == [(VERSION,)]
