"""What the correction moved, held against a room that cannot be corrected: the same logs without start commands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.ingest import load_site
from pipeline.measure import measure_site
from pipeline.measure.clock_effects import hanging_on
from pipeline.model import build_models
from pipeline.settings import read_settings
from pipeline.sql_files import Model, read_models
from pipeline.store import Store
from tests.ingest.clocks.known_rooms import Law
from tests.ingest.clocks.known_sites import draw_room, write_room

pytestmark = pytest.mark.slow

LAWS = {"VT1": Law(-83.4, 35.0), "VT3": Law(3600.0)}
DAYS = 3
FIGURES = {
    "air_s", "lost_s", "covered_s", "unproved_s", "exposed_s", "unknown_s", "interruptions", "forced", "precaution",
    "unexplained", "planned", "return", "demands", "demands_met",
}  # fmt: skip


def measured(folder: Path, database: Path | str = ":memory:") -> dict[str, Any]:
    settings = read_settings(folder)
    with Store(Path(database)) as store, store.transaction():
        load_site(folder, settings, store)
        build_models(store)
        return measure_site(store, settings)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_room(draw_room(5, DAYS), tmp_path_factory.mktemp("room") / "site", LAWS)


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("room") / "room.duckdb"


@pytest.fixture(scope="module")
def corrected(folder: Path, database: Path) -> dict[str, Any]:
    return measured(folder, database)


@pytest.fixture(scope="module")
def uncorrected(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Without start commands there are no pairs and no correction; all machines are booked, so a start says no more."""
    room = draw_room(5, DAYS)
    room.orders = [order for order in room.orders if order[1] != "start"]
    figures = measured(write_room(room, tmp_path_factory.mktemp("other") / "site", LAWS))
    assert not any(clock["is_corrected"] for clock in figures["clocks"])
    return figures


def groups(figures: dict[str, Any]) -> dict[tuple[str, str], dict[str, Any]]:
    named = {("month", month["month"]): month for month in figures["months"]}
    named |= {("machine", machine["machine"]): machine for machine in figures["machines"]}
    return {("total", ""): figures["total"], **named}


def test_every_value_is_that_of_the_run_with_and_of_the_run_without(
    corrected: dict[str, Any], uncorrected: dict[str, Any]
) -> None:
    effects = corrected["clock_effects"]
    assert effects["machines"] == ["VT1", "VT3"]
    with_it, without = groups(corrected), groups(uncorrected)
    assert with_it.keys() == without.keys()
    said = {(row["scope"], row["name"], row["figure"]): row for row in effects["figures"]}
    for key, group in with_it.items():
        for figure in FIGURES:
            row = said.pop((*key, figure), None)
            if row is None:  # what is not listed did not move
                assert group[figure] == without[key][figure]
                continue
            assert (row["with_correction"], row["without_correction"]) == (group[figure], without[key][figure])
            assert row["moved"] == pytest.approx(group[figure] - without[key][figure], abs=5e-7)
    assert said == {}


def test_a_clock_an_hour_out_moves_what_is_lost(corrected: dict[str, Any]) -> None:
    """Uncorrected, VT3 comes an hour late to every programme: it is on air about every other time, 25 min each."""
    lost = next(row for row in corrected["clock_effects"]["figures"] if row["figure"] == "lost_s")
    assert lost["scope"] == "total"
    assert lost["without_correction"] > 1500
    assert lost["moved"] < 0


def test_how_many_were_compared_and_moved(corrected: dict[str, Any]) -> None:
    effects = corrected["clock_effects"]
    # The days begin on 27 February: two months, four machines and the total, fourteen figures each.
    assert effects["compared_count"] == (1 + len(corrected["months"]) + 4) * len(FIGURES)
    assert effects["moved_count"] == sum(row["moved"] != 0 for row in effects["figures"])
    assert all(row["moved"] for row in effects["figures"] if row["scope"] != "total")


def test_the_second_set_of_tables_is_gone_and_the_first_as_it_was(corrected: dict[str, Any], database: Path) -> None:
    with Store(database, read_only=True) as store:
        tables = store.read("select table_name from information_schema.tables")["table_name"].to_list()
        assert len(tables) == len(set(tables))
        assert float(store.value("select sum(lost_s) from metric_air")) == pytest.approx(corrected["total"]["lost_s"])
        assert store.value("select count(*) from raw_clock_segments where is_corrected") == 2
        said = store.read("select * from measure_clock_effects").to_dicts()
    assert said == corrected["clock_effects"]["figures"]


def test_nothing_corrected_nothing_worked_out(uncorrected: dict[str, Any]) -> None:
    assert uncorrected["clock_effects"] == {"machines": [], "compared_count": 0, "moved_count": 0, "figures": []}


def model(name: str, *reads: str) -> Model:
    return Model(name, "", "", (), reads, "")


def test_only_what_hangs_on_the_clocks_is_built_again() -> None:
    models = (
        model("events", "clocks", "rows"),
        model("pieces", "bookings"),
        model("states", "events", "pieces"),
        model("metric", "states"),
        model("beside", "states"),
    )
    names = [one.name for one in hanging_on(models, "clocks", ("metric",))]
    assert names == ["events", "states", "metric"]


def test_of_the_real_models_no_reading_of_rows_is_done_again() -> None:
    models = hanging_on(read_models(), "raw_clock_segments", ("metric_air", "metric_events"))
    names = [one.name for one in models]
    assert "core_events" in names
    assert not any(name.startswith("clean_") for name in names)
