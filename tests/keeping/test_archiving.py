"""Archived lines stay in every table and page, may lose their exports, and come back; what is damaged is said."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import pytest

from pipeline.answers import read_figures
from pipeline.errors import FeedError, QuestionError, SiteError, StoreError
from pipeline.flow import Request, run_site
from pipeline.keeping import archive, back_up, compact, take_back
from pipeline.loaded_answers import read_loaded
from pipeline.places import DATABASE
from tests.command.room import airhours
from tests.finished_room import quiet, run_without_pages
from tests.keeping.tables import read_all, run_sql, seen
from tests.safety import room
from tests.safety.state import read_files

MARCH = "2031-03"


@pytest.fixture(scope="module")
def two_months(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small room from 24 February on, so that evenings 0 to 4 are February's and the others March's.

    Each machine's log is one file over both months; one more, of VT1, holds February lines alone.
    """
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(room, "EVENING", datetime(2031, 2, 24, 19))  # noqa: DTZ001 - local, as the room writes it
        site = room.write_room(tmp_path_factory.mktemp("archive") / "small")
    february = site / "events" / "VT1-february.csv"
    february.write_text(f"{room.EVENTS}2031-02-25T11:00:00,VT1,clean,,\n", encoding="utf-8")
    run_site(site, narrate=quiet)
    return site


@pytest.fixture
def site(two_months: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(two_months, tmp_path / "site"))


def pages(site: Path) -> dict[str, str]:
    return read_files(site / "reports")


def make_anew(site: Path) -> None:
    """As a run of another version of the program would."""
    run_sql(site / DATABASE, "update run_seal set seal = 'of another program'")
    assert run_site(site, narrate=quiet).is_changed


def test_nothing_that_is_read_changes(site: Path) -> None:
    before, shown = seen(site), pages(site)
    done = archive(site, MARCH)
    march = datetime(2031, 3, 1, 5)  # noqa: DTZ001 - naive UTC; 06:00 in Stockholm, where the broadcast day starts
    lines = [row for row in before["raw_events"] if row[4] < march]
    assert done.lines == len(lines) > 20
    assert done.months == ("2031-02",)
    assert seen(site) == before
    assert not run_site(site, narrate=quiet).is_changed
    make_anew(site)
    assert seen(site) == before
    assert pages(site) == shown
    (part,) = (site / "archive" / "events").rglob("*.parquet")
    assert part.parent.name == "month=2031-02"


@pytest.mark.slow
def test_exports_may_leave_and_the_folder_may_move(site: Path, tmp_path: Path) -> None:
    before, shown = seen(site), pages(site)
    assert archive(site, MARCH).files == ("events/VT1-february.csv",)
    (site / "events" / "VT1-february.csv").unlink()
    assert read_loaded(site)["not_loaded"] == []
    moved = site.rename(tmp_path / "moved")
    assert not run_site(moved, narrate=quiet).is_changed
    make_anew(moved)
    assert seen(moved) == before
    assert pages(moved) == shown
    # A file that goes on into March is no such file: its rows go with it, the archived ones too.
    (moved / "events" / "VT2.csv").unlink()
    run_without_pages(moved)
    assert {row[0] for row in seen(moved)["raw_events"]} == {row[0] for row in before["raw_events"]} - {
        "events/VT2.csv"
    }


def test_all_comes_back(site: Path) -> None:
    before, tables = seen(site), read_all(site / DATABASE)
    archive(site, MARCH)
    (site / "events" / "VT1-february.csv").unlink()
    back = take_back(site)
    assert back.files == ("events/VT1-february.csv",)
    assert seen(site) == before
    assert read_all(site / DATABASE) == tables
    assert not list((site / "archive").rglob("*.parquet"))
    with pytest.raises(StoreError, match="has no archive"):
        take_back(site)


@pytest.mark.slow
def test_a_file_that_changes_or_is_withdrawn_takes_its_archived_rows_along(site: Path) -> None:
    archive(site, MARCH)
    name = "events/VT1-february.csv"
    (site / name).write_text(f"{room.EVENTS}2031-02-25T12:00:00,VT1,lineup,,\n", encoding="utf-8")
    run_without_pages(site)
    assert [row[8] for row in seen(site)["raw_events"] if row[0] == name] == ["lineup"]
    assert archive(site, MARCH).lines == 1
    assert [row[8] for row in seen(site)["raw_events"] if row[0] == name] == ["lineup"]
    run_without_pages(site, request=Request(withdraw=name))
    assert [row for row in seen(site)["raw_events"] if row[0] == name] == []
    run_without_pages(site, request=Request(put_back=name))
    assert [row[8] for row in seen(site)["raw_events"] if row[0] == name] == ["lineup"]


def test_an_archived_file_without_export_is_not_withdrawn(site: Path) -> None:
    archive(site, MARCH)
    (site / "events" / "VT1-february.csv").unlink()
    before = seen(site)
    with pytest.raises(FeedError, match="archived and no longer in the folder"):
        run_site(site, narrate=quiet, request=Request(withdraw="events/VT1-february.csv"))
    assert seen(site) == before


def test_another_zone_is_refused_where_archived_rows_cannot_be_read_again(site: Path) -> None:
    archive(site, MARCH)
    toml = (site / "site.toml").read_text(encoding="utf-8")
    (site / "events" / "VT1-february.csv").unlink()
    (site / "site.toml").write_text(toml.replace("Europe/Stockholm", "Europe/London"), encoding="utf-8")
    with pytest.raises(SiteError, match=r"1 archived files were read with timezone Europe/Stockholm"):
        run_site(site, narrate=quiet)


@pytest.mark.parametrize("harm", ["missing", "cut short", "altered"])
def test_a_part_that_is_no_good_is_said_in_one_sentence(site: Path, harm: str) -> None:
    archive(site, MARCH)
    (part,) = (site / "archive").rglob("*.parquet")
    whole = part.read_bytes()
    if harm == "missing":
        part.unlink()
    else:
        part.write_bytes(whole[:-1] if harm == "cut short" else bytes([*whole[:50], whole[50] ^ 1, *whole[51:]]))
    for ask in (lambda: run_site(site, narrate=quiet), lambda: take_back(site)):
        with pytest.raises(StoreError, match=r"a part of the archive, is (missing|damaged)") as refused:
            ask()
        assert "\n" not in str(refused.value)
    if harm != "altered":
        with pytest.raises(StoreError, match="a part of the archive"):
            read_figures(site)
    part.write_bytes(whole)
    assert not run_site(site, narrate=quiet).is_changed


def test_a_killed_archiving_s_part_is_cleared_away(site: Path) -> None:
    stray = site / "archive" / "events" / "month=2031-01" / "0123456789abcdef.parquet"
    stray.parent.mkdir(parents=True)
    stray.write_bytes(b"of a killed process")
    archive(site, MARCH)
    assert not stray.exists()


def test_what_cannot_be_archived_is_refused(site: Path) -> None:
    before = read_files(site)
    for month, why in (("2031-04", "not every month before"), ("2031-02", "There is no month"), ("March", "no month")):
        with pytest.raises(QuestionError, match=why):
            archive(site, month)
    assert {name: sum_ for name, sum_ in read_files(site).items() if name != DATABASE} == {
        name: sum_ for name, sum_ in before.items() if name != DATABASE
    }
    archive(site, MARCH)
    with pytest.raises(StoreError, match="has an archive, which a backup does not hold"):
        back_up(site, site.with_name("room.zip"))


def test_compacting_goes_with_it(site: Path) -> None:
    before = seen(site)
    archive(site, MARCH)
    compact(site)
    assert seen(site) == before
    assert archive(site, MARCH).lines == 0
    assert airhours("loaded", site).exit_code == 0


def test_the_command(site: Path) -> None:
    assert "1 months moved out of" in airhours("archive", site, "--before", MARCH).stdout
    assert "back in" in airhours("archive", site, "--back").stdout
    assert isinstance(airhours("archive", site).exception, QuestionError)
