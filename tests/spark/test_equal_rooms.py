"""Every table of sql/ and every finding of the checks, on Spark and in the database: the same rows, to the last digit.

Nothing is rounded or allowed for. Sums are of whole microseconds or exact decimals; of the doubles each is one quotient
or product of the same two numbers, which IEEE 754 leaves no choice in.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import hypothesis
import pytest
from hypothesis import HealthCheck, Phase, given

from pipeline.flow import run_site
from pipeline.ingest import load_site
from pipeline.model import build_models
from pipeline.settings import read_settings
from pipeline.simulate import Parameters, simulate_site
from pipeline.sql_files import read_models
from pipeline.store import Store
from tests.finished_room import Finished, quiet
from tests.model.room_tables import fill_store
from tests.second_reader.ruled_rooms import ruled_rooms
from tests.second_reader.sites import Room
from tests.spark.rooms import differences, engine_on, needs_java

pytestmark = [pytest.mark.slow, needs_java, pytest.mark.timeout(1800)]
NAMES = [model.name for model in read_models()]
ROOMS = 60  # drawn, of which the fullest is built: each takes as long on Spark as a large one


def test_a_generated_room_with_rulings(monkeypatch: pytest.MonkeyPatch) -> None:
    room = _fullest_room()
    assert room.rulings
    assert len(room.events) > 20
    with Store(Path(":memory:")) as ours, Store(Path(":memory:")) as theirs:
        for store in (ours, theirs):
            fill_store(store, room)
        build_models(ours)
        with engine_on(theirs, monkeypatch):
            assert differences(ours, theirs, NAMES) == {}


def _fullest_room() -> Room:
    rooms: list[Room] = []

    @hypothesis.settings(
        max_examples=ROOMS, phases=[Phase.generate], database=None, suppress_health_check=list(HealthCheck)
    )
    @given(ruled_rooms())
    def gather(room: Room) -> None:
        rooms.append(room)

    gather()
    return max(rooms, key=lambda room: len(room.events) + len(room.switches) + 10 * len(room.rulings))


def test_a_simulated_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site, database = tmp_path / "site", tmp_path / "ours.duckdb"
    simulate_site(site, Parameters(days=2, lines=5000, faults=200.0, clock_error=2.0, mess=0.05), quiet)
    with Store(database) as store, store.transaction():
        load_site(site, read_settings(site), store)
    copy = Path(shutil.copy(database, tmp_path / "theirs.duckdb"))
    with Store(database) as ours, Store(copy) as theirs:
        build_models(ours)
        with engine_on(theirs, monkeypatch):
            assert differences(ours, theirs, NAMES) == {}
        assert ours.value("select count(*) from core_interruptions") > 0


def test_the_whole_job_gives_the_same_figures(finished: Finished, tmp_path: Path) -> None:
    """The first room by the flow, as a site says it: every table, the verdicts, and figures.json to the byte."""
    site = tmp_path / "site"
    shutil.copytree(finished.site, site, ignore=shutil.ignore_patterns("reports", "*.duckdb*"))
    told = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(f'engine = "spark"\n{told}', encoding="utf-8")
    result = run_site(site, narrate=quiet)
    data = [folder.parent / "data" / "figures.json" for folder in (result.index, finished.result.index)]
    assert data[0].read_bytes() == data[1].read_bytes()
    assert json.loads(data[0].read_text())  # and not of two empty files
    with Store(finished.database, read_only=True) as ours, Store(site / "airhours.duckdb", read_only=True) as theirs:
        judged = [*NAMES, "check_findings", "check_results", *_measured(ours)]
        assert differences(ours, theirs, judged) == {}


def _measured(store: Store) -> list[str]:
    return sorted(name for name in store.tables() if name.startswith("measure_"))
