"""The Python door: figures as a run wrote them, tables without names of persons, a connection that cannot write."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

import pipeline
from pipeline.errors import AirhoursError, BusyStoreError, OutputError, QuestionError, StoreError
from pipeline.exports import PERSONS
from pipeline.places import DATABASE
from pipeline.site_reading import SiteReading
from pipeline.store import Store
from tests.evidence.rooms import measure_room
from tests.evidence.tiny import write_site
from tests.finished_room import Finished

ROOT = Path(__file__).resolve().parent.parent
ROOM_PERSON = "Ada Real"  # invented: written into the log of the small room below


@pytest.fixture(scope="module")
def site(finished: Finished) -> Iterator[SiteReading]:
    with pipeline.open_site(finished.site) as opened:
        yield opened


@pytest.fixture(scope="module")
def small_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small room in which a person is named, as its last run left it."""
    folder = write_site(tmp_path_factory.mktemp("small") / "tiny")
    path = folder / "switches.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    place = head.split(",").index("by")
    cells = [row.split(",") for row in rows]
    named = [[*row[:place], ROOM_PERSON, *row[place + 1 :]] for row in cells]
    path.write_text("\n".join([head, *(",".join(row) for row in named)]) + "\n", encoding="utf-8")
    room = measure_room(folder)
    room.store.close()
    return room.site


@pytest.fixture
def small(small_once: Path, tmp_path: Path) -> Path:
    """A copy that may be written in."""
    return Path(shutil.copytree(small_once, tmp_path / "tiny"))


def test_importing_the_package_loads_no_library() -> None:
    code = "import sys, pipeline; print(sorted({'polars', 'duckdb', 'typer', 'numpy'} & set(sys.modules)))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert told.stdout.strip() == "[]"


def test_figures_are_those_that_the_run_wrote(site: SiteReading, finished: Finished) -> None:
    written = pl.read_csv(finished.reports / "data" / "figures.csv", schema=dict(site.figures().schema))
    assert site.figures().equals(written)
    assert site.figures_document()["total"] == finished.result.figures["total"]
    months = site.months()
    assert months["month"].to_list() == ["2031-02", "2031-03", "2031-04"]
    for row, entry in zip(months.iter_rows(named=True), finished.result.figures["months"], strict=True):
        assert row["lost_s"] == entry["lost_s"]
        assert row["to_take_s.median"] == entry["to_take_s"]["median"]
    assert site.machines().height == len(finished.result.figures["machines"])
    assert site.channels().height == len(finished.result.figures["channels"])


def test_frames_hold_a_row_for_each_thing(site: SiteReading, finished: Finished) -> None:
    total = finished.result.figures["total"]
    assert site.interruptions().height == total["interruptions"]
    assert site.switches().filter("is_protect").height == total["protect_switches"]
    assert site.incidents()["started_at_utc"].is_sorted()
    assert site.events().height == site.query("select count(*) from core_events").item()
    assert "core_incidents" in site.tables()
    assert not [name for name in site.tables() if "person" in name]


def test_the_database_cannot_be_written(site: SiteReading) -> None:
    for statement in ("create table mine as select 1", "delete from core_word_rows", "drop table core_word_rows"):
        with pytest.raises(Exception, match="read-only"):
            site.connection.execute(statement)
    with pytest.raises(QuestionError, match="cannot be answered"):
        site.query("delete from core_word_rows returning *")
    assert site.connection.execute("select 6 * 7").fetchone() == (42,)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda site: site.table("core_event"), 'no table "core_event"'),
        (lambda site: site.query("select nothing"), "nothing"),
        (lambda site: site.query("selec"), "cannot be answered"),
    ],
)
def test_what_cannot_be_answered_is_one_sentence(site: SiteReading, ask, words: str) -> None:
    with pytest.raises(AirhoursError, match=words) as refused:
        ask(site)
    assert len(str(refused.value).splitlines()) == 1


def test_no_run_a_closed_site_and_a_run_at_work(tmp_path: Path, small: Path) -> None:
    with pytest.raises(StoreError, match="does not exist"):
        pipeline.open_site(tmp_path)
    with pipeline.open_site(str(small)) as opened:
        assert opened.settings.name
    with pytest.raises(StoreError, match="closed"):
        opened.figures_document() and opened.tables() and opened.table("core_events")
    hold = "import sys; from pathlib import Path; from pipeline.store import Store\n"
    hold += "with Store(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
    command = [sys.executable, "-c", hold, str(small / DATABASE)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(BusyStoreError, match="in use by another run"):
            pipeline.open_site(small)
        holder.communicate("")


def test_persons_are_pseudonyms_unless_the_site_shows_them(small: Path, tmp_path: Path) -> None:
    with pipeline.open_site(small) as site:
        takes = site.table("raw_switches")
        assert set(takes["taken_by"]) == {"person 1"} | ({None} if takes["taken_by"].null_count() else set())
        assert takes["text"].null_count() == takes.height
        site.export(tmp_path / "out")
        assert site.query("select distinct taken_by from raw_switches").item() == ROOM_PERSON
    for path in (tmp_path / "out").iterdir():
        for column in pl.read_parquet(path).select(pl.col(pl.String)).iter_columns():
            assert not column.str.contains(ROOM_PERSON, literal=True).any(), (path.name, column.name)
    with Store(small / DATABASE) as store:
        store.run("update site_settings set show_persons = true")
    with pipeline.open_site(small) as site:
        assert ROOM_PERSON in set(site.table("raw_switches")["taken_by"])


def test_every_column_for_persons_is_known(site: SiteReading) -> None:
    """What a feed calls by, recorded_by or written_by is a person; ended_by, joined_by and put_there_by are none."""
    told = site.query("select distinct column_name from information_schema.columns where ends_with(column_name, '_by')")
    assert set(told.to_series()) == {*PERSONS, "ended_by", "joined_by", "put_there_by"}


def test_an_export_holds_every_table_and_the_same_bytes_twice(small: Path, tmp_path: Path) -> None:
    with pipeline.open_site(small) as site:
        paths = site.export(tmp_path / "one")
        assert [path.stem for path in paths] == list(site.tables())
        again = site.export(tmp_path / "two")
        for name in site.tables():
            assert pl.read_parquet(tmp_path / "one" / f"{name}.parquet").height == site.table(name).height
    assert [_digest(path) for path in paths] == [_digest(path) for path in again]
    assert sorted(path.name for path in (tmp_path / "one").iterdir()) == sorted(path.name for path in paths)


def test_an_export_that_cannot_be_written(small: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    with pipeline.open_site(small) as site, pytest.raises(OutputError, match="cannot be written"):
        site.export(tmp_path / "file")


def test_another_database(small: Path, tmp_path: Path) -> None:
    shutil.move(small / DATABASE, tmp_path / "kept.duckdb")
    with pipeline.open_site(small, tmp_path / "kept.duckdb") as site:
        assert site.figures().height


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
