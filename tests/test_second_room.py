"""The second sample room: what is committed is what its writer writes, and a room's own spellings change no figure.

The site of foreign files and its canonical twin are written from the same scenes. Both runs must agree with each other
figure for figure, and with the true answer that the scenes state; no log is read to find that answer.
"""

from __future__ import annotations

import json
import shutil
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from pipeline.ingest.feeds import EXPORTED, Feed
from pipeline.places import DATABASE
from pipeline.store import Store
from sample_logs.foreign.acting import Acted, act_all
from sample_logs.foreign.answer import true_answer
from sample_logs.foreign.strays import Strays
from sample_logs.foreign.twin import write_twin
from sample_logs.write_second_room import HERE, SEED, build, differences, write_foreign
from tests.evidence.rooms import measure_room
from tests.finished_room import Finished
from tests.test_flow import GROUPS, hold

pytestmark = pytest.mark.slow

Figures = dict[str, Any]
AS_WRITTEN = {"file", "line", "text", "at_text", "extra"}
NOT_COMPARED = {"site", "rows", "files"}  # how the same content was written is told there


@pytest.fixture(scope="module")
def acted() -> Acted:
    return act_all(SEED)


@pytest.fixture(scope="module")
def foreign_site(finished_second: Finished) -> Path:
    return finished_second.site


@pytest.fixture(scope="module")
def twin_site(tmp_path_factory: pytest.TempPathFactory, acted: Acted) -> Path:
    site = tmp_path_factory.mktemp("second") / "twin"
    for name, content in write_twin(acted).items():
        (site / name).parent.mkdir(parents=True, exist_ok=True)
        (site / name).write_bytes(content)
    return site


@pytest.fixture(scope="module")
def foreign(finished_second: Finished) -> Figures:
    assert not finished_second.result.is_stopped
    written: Figures = json.loads((finished_second.reports / "data" / "figures.json").read_text(encoding="utf-8"))
    return written


@pytest.fixture(scope="module")
def twin(twin_site: Path) -> Figures:
    room = measure_room(twin_site)
    room.store.close()
    return room.figures


@pytest.fixture(scope="module")
def truth(acted: Acted) -> Figures:
    return true_answer(acted)


def test_committed_files_are_what_the_writer_writes() -> None:
    assert differences(build(), HERE) == []


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others() -> None:
    assert build() == build()
    assert build(SEED + 1)["vaxelpult_2031.csv"] != build()["vaxelpult_2031.csv"]


def test_check_sees_a_changed_a_missing_and_a_stray_file(tmp_path: Path) -> None:
    folder = shutil.copytree(HERE, tmp_path / "room", ignore=shutil.ignore_patterns("reports", "*.duckdb*"))
    workbook = folder / "felanmalningar.xlsx"
    workbook.write_bytes(workbook.read_bytes()[:-1])
    (folder / "register" / "band.csv").unlink()
    (folder / "maskinlogg" / "bm1.log").write_bytes(b"")
    assert differences(build(), folder) == [
        "felanmalningar.xlsx differs",
        "maskinlogg/bm1.log does not belong",
        "register/band.csv is missing",
    ]


def test_the_folder_is_small() -> None:
    assert sum(map(len, build().values())) < 2_000_000


def test_no_file_is_in_our_columns() -> None:
    """So that a run which passes has read the tables of site.toml."""
    for name, content in build().items():
        if name.endswith(("csv", "txt", "log", "ics")):
            first_lines = content[:2000].lower()
            for ours in (b"from_machine", b"started", b"transmission,", b"reel,", b"machine,", b"detail"):
                assert ours not in first_lines, name


def test_in_the_night_of_the_clock_change_wall_times_go_back_once() -> None:
    """Europe/Stockholm, tz database: on the last Sunday of October, 26 October 2031, 03:00 becomes 02:00 again."""
    lines = build()["maskinlogg/bm5_2031-10-23.log"].decode().splitlines()
    times = [line.split()[2] for line in lines if line.partition(">")[2].startswith("Oct 26 0")]
    steps_back = [(before, after) for before, after in pairwise(times) if after < before]
    assert len(steps_back) == 1
    assert all(time.startswith("02:") for time in steps_back[0])


def test_the_scenes_hold_what_the_room_is_for(truth: Figures) -> None:
    """A comparison of figures that are all nought would prove nothing."""
    total = truth["total"]
    for name in ("lost_s", "unknown_s", "covered_s", "unproved_s", "exposed_s", "rescued_s", "overrun_s"):
        assert total[name] > 0, name
    for name in ("forced", "precaution", "unexplained", "planned", "return", "demands_met", "demands_healed"):
        assert total[name] > 0, name
    assert [row["month"] for row in truth["months"]] == ["2031-10", "2031-11"]
    assert [row["offset_s"] for row in truth["clocks"]] == [0.0, 42.0, 0.0, 0.0]


@pytest.mark.parametrize("site", ["foreign", "twin"])
def test_figures_equal_the_true_answer(site: str, truth: Figures, request: pytest.FixtureRequest) -> None:
    figures = request.getfixturevalue(site)
    hold(figures["total"], truth["total"], "total")
    for group, key in GROUPS.items():
        said = {entry[key]: entry for entry in figures[group]}
        assert set(said) == {entry[key] for entry in truth[group]}, group
        for entry in truth[group]:
            hold(said[entry[key]], entry, entry[key])


@pytest.mark.parametrize("site", ["foreign", "twin"])
def test_clocks_are_as_the_scenes_set_them(site: str, truth: Figures, request: pytest.FixtureRequest) -> None:
    said = {clock["machine"]: clock for clock in request.getfixturevalue(site)["clocks"]}
    for clock in truth["clocks"]:
        assert said[clock["machine"]]["offset_s"] == pytest.approx(clock["offset_s"], abs=1e-3)
        assert said[clock["machine"]]["is_corrected"] == (clock["offset_s"] != 0)


def test_the_rooms_own_spellings_change_no_figure(foreign: Figures, twin: Figures) -> None:
    assert foreign.keys() == twin.keys()
    for name in foreign.keys() - NOT_COMPARED:
        assert foreign[name] == twin[name], name


@pytest.mark.parametrize("feed", EXPORTED, ids=lambda feed: feed.name)
def test_every_kept_row_says_the_same(
    feed: Feed, foreign: Figures, twin: Figures, foreign_site: Path, twin_site: Path
) -> None:
    """Every column of ours in every row that counts, instants and the digits of their seconds included."""
    names = ", ".join(f'"{name}"' for name, _ in feed.table_columns if name not in AS_WRITTEN)
    rows = []
    for site in (foreign_site, twin_site):
        with Store(site / DATABASE, read_only=True) as store:
            rows.append(store.read(f"select {names} from clean_{feed.name} order by all").rows())
    assert rows[0]
    assert rows[0] == rows[1]


def test_as_many_rows_are_kept_of_each_feed(foreign: Figures, twin: Figures) -> None:
    kept = [Counter[str](), Counter[str]()]
    for counts, figures in zip(kept, (foreign, twin), strict=True):
        for file in figures["files"]:
            assert file["read"] == file["kept"] + file["repeats"] + file["set_aside"], file["path"]
            counts[file["feed"]] += file["kept"]
    assert kept[0] == kept[1]
    assert len(kept[0]) == 6
    assert twin["rows"]["set_aside"] == twin["rows"]["repeats"] == 0


def test_what_is_set_aside_is_what_the_page_of_the_room_lists(foreign: Figures, acted: Acted) -> None:
    strays = Strays()
    write_foreign(acted, strays)
    assert {file["path"]: file["set_aside"] for file in foreign["files"]} == {
        file["path"]: strays.of(file["path"]) for file in foreign["files"]
    }
