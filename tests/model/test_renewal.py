"""Tables renewed in part equal tables made anew, whatever comes, changes and goes, in whatever order.

A room is simulated, its logs cut into a file a day and machine, and files arrive, grow, are corrected, copied and taken
away by a seeded draw. After each step every table that the run renewed is held, row by row, against the same models
run as a whole on the same raw rows; at the end also against a database that has loaded the folder in one go.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.ingest import load_site
from pipeline.model import build_models, by_piece
from pipeline.settings import read_settings
from pipeline.simulate import Parameters, simulate_site
from pipeline.sql_files import read_models
from pipeline.store import Store
from tests.model.changing_room import ChangingRoom

SEED, SEEDS = 1, (1, 3, 4)
LATE = 5  # lines of the selector that come late


@pytest.fixture(scope="module")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four days of a room with two channels, three pairs, many faults, and a clock in three that is off."""
    folder = tmp_path_factory.mktemp("renewal") / "room"
    simulate_site(
        folder, Parameters(seed=11, channels=2, pairs=3, days=4, faults=150, lines_per_second=0.004, clock_error=20)
    )
    return folder


def test_tables_are_those_of_a_build_as_a_whole(simulated: Path, tmp_path: Path) -> None:
    """The first two changes."""
    _change(simulated, tmp_path, SEED, steps=2)


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_tables_are_those_of_a_build_as_a_whole_for_long(simulated: Path, tmp_path: Path, seed: int) -> None:
    """Ten changes each."""
    _change(simulated, tmp_path, seed, steps=10)


def _change(simulated: Path, folder: Path, seed: int, *, steps: int) -> None:
    room = ChangingRoom(simulated, folder / "site", seed)
    said = []
    with Store(folder / "renewed.duckdb") as renewed:
        _run(room.site, renewed)
        for _ in range(steps):
            said.append(room.step())
            _run(room.site, renewed)
            assert _differing(renewed) == {}, said
    with Store(folder / "at_once.duckdb") as at_once:
        _run(room.site, at_once)
        at_once.run(f"attach '{folder / 'renewed.duckdb'}' as renewed (read_only)")
        differing = {table: _rows_apart(at_once, f"main.{table}", f"renewed.main.{table}") for table in _tables()}
        assert {table: apart for table, apart in differing.items() if apart} == {}, said


def _run(site: Path, store: Store) -> None:
    with store.transaction():
        load_site(site, read_settings(site), store)
        build_models(store)


def _tables() -> list[str]:
    return [model.name for model in read_models() if not model.is_view]


def _differing(store: Store) -> dict[str, int]:
    """Tables whose rows are not those of their select on the tables as they stand, with how many."""
    found = {
        model.name: _rows_apart(store, model.name, f"({model.sql})") for model in read_models() if not model.is_view
    }
    return {table: apart for table, apart in found.items() if apart}


def _rows_apart(store: Store, one: str, other: str) -> int:
    apart = "(select count(*) from (from {} except all from {}))"
    counted = f"{apart.format('one', 'other')} + {apart.format('other', 'one')}"
    return int(
        store.value(
            f"with one as materialized (from {one}), other as materialized (from {other}) select {counted} as apart"
        )
    )


def test_only_what_is_touched_is_made_anew(simulated: Path, tmp_path: Path) -> None:
    """One booking that ends later touches its own transmission, and no line; nothing new touches nothing."""
    room = ChangingRoom(simulated, tmp_path / "site", seed=1)
    with Store(tmp_path / "renewed.duckdb") as store:
        _run(room.site, store)
        mark_kept_rows(store)
        _run(room.site, store)
        assert made_anew(store) == set()
        room.book_otherwise()
        _run(room.site, store)
        transmissions = set(store.read("select distinct transmission from core_pieces")["transmission"])
        assert len(transmissions) > 50
        assert len(made_anew(store)) == 1


def test_a_take_on_one_channel_touches_no_piece_of_another(simulated: Path, tmp_path: Path) -> None:
    """Takes are numbered by channel first, so that those of the second channel go up by as many as are new."""
    room = ChangingRoom(simulated, tmp_path / "site", seed=1)
    with Store(tmp_path / "renewed.duckdb") as store:
        _run(room.site, store)
        first, second = store.read("select distinct channel from core_takes order by channel")["channel"]
        numbers = f"select take_no from core_feed where channel = '{second}' and take_no is not null order by all"
        before, takes_count = store.read(numbers)["take_no"], store.value("select count(*) from core_takes")
        mark_kept_rows(store)
        for _ in range(LATE):
            room.take_late(first)
        _run(room.site, store)
        named = store.read(f"select distinct transmission from core_pieces where channel = '{first}'")
        assert 1 <= len(made_anew(store)) <= 2 * LATE  # the piece a take falls into, and that which begins after it
        assert made_anew(store) <= set(named["transmission"])
        assert len(before) > 50
        more = store.value("select count(*) from core_takes") - takes_count
        assert more >= 1  # not every line of the selector is a take
        assert store.read(numbers)["take_no"].to_list() == (before + more).to_list()


def mark_kept_rows(store: Store) -> None:
    """Write into each row of a table by piece what a row made anew does not have."""
    store.run("alter table core_air_segments alter feed_state set data type varchar")
    store.run("update core_air_segments set feed_state = coalesce(feed_state, '') || ' kept'")


def made_anew(store: Store) -> set[str]:
    """Transmissions with a row that is not marked."""
    rows = store.read("select distinct transmission from core_air_segments where not feed_state like '% kept'")
    return set(rows["transmission"])


@pytest.mark.slow
def test_pieces_in_turns_are_pieces_at_once(simulated: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Seven pieces a turn leave the tables that all in one turn do."""
    room = ChangingRoom(simulated, tmp_path / "site", seed=2)
    monkeypatch.setattr(by_piece, "A_TURN", 7)
    with Store(tmp_path / "in_turns.duckdb") as store:
        _run(room.site, store)
        assert store.value("select count(*) from core_pieces") > 7 * 10
        assert _differing(store) == {}
