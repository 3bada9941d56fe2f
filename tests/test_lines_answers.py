"""The command that shows the lines behind a figure, asked of a small room worked by hand (tests/evidence/tiny.py)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline import outputs
from pipeline.cli import app
from pipeline.errors import FigureError, SiteError, StoreError
from pipeline.evidence import Scope
from pipeline.lines_answers import answer_lines
from pipeline.places import DATABASE
from pipeline.store import Store
from tests.evidence.rooms import measure_room
from tests.evidence.tiny import SITE, write_site


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    room = measure_room(write_site(tmp_path_factory.mktemp("lines") / "tiny"))
    room.store.close()
    return room.site


@pytest.fixture(autouse=True)
def sealed(site: Path) -> None:
    """The seal of the program as it is: while it is being worked on it may change between two tests."""
    with Store(site / DATABASE) as store:
        store.run("update run_seal set seal = ?", [outputs.program_seal()])


def test_lost_air_with_its_rows(site: Path) -> None:
    answer = answer_lines(site, "lost_s", Scope(month="2031-03"))
    told = answer.text.splitlines()
    assert told[0] == "lost_s of month 2031-03: 4.5"
    assert told[2].startswith("   1  2031-03-10 19:10:00 to 19:10:04.5 UTC: One, A: lost")
    assert "      ends: switches.csv, line 3: take from A to B, reason fault" in told
    assert told[-1] == "1 line, together 4.5"
    assert answer.data["total"] == answer.data["value"] == 4.5
    assert answer.data["items"][0]["started_at_utc"] == "2031-03-10T19:10:00Z"


def test_names_are_listed_without_a_figure(site: Path) -> None:
    answer = answer_lines(site, "", Scope())
    assert answer.data["figures"]["lost_s"] == 4.5
    assert {"to_take_s.median", "rows.kept", "standby.air_s"} <= set(answer.data["figures"])
    assert answer.data["channel"] == ["One"]
    assert answer_lines(site, "", Scope(file="bookings.csv")).data["figures"] == {
        "read": 2, "kept": 2, "repeats": 0, "set_aside": 0,
    }  # fmt: skip


def test_a_limit_is_told(site: Path) -> None:
    answer = answer_lines(site, "air_s", Scope(), limit=2)
    assert len(answer.data["items"]) == 2
    assert f"{answer.data['count']} lines ({answer.data['count'] - 2} more with --limit 0)" in answer.text


def test_persons_follow_site_toml_as_it_stands_now(site: Path) -> None:
    assert "•••" in answer_lines(site, "lost_s", Scope()).text
    (site / "site.toml").write_text(SITE + "show_persons = true\n", encoding="utf-8")
    try:
        told = answer_lines(site, "lost_s", Scope()).text
        assert "Karin Holm" in told
        assert "•••" not in told
    finally:
        (site / "site.toml").write_text(SITE, encoding="utf-8")


def test_the_command_prints_and_refuses(site: Path) -> None:
    run = CliRunner().invoke
    told = run(app, ["lines", str(site), "lost_s", "--channel", "One", "--json"])
    assert told.exit_code == 0
    assert json.loads(told.stdout)["value"] == 4.5
    assert "lost_s of the whole site: 4.5" in run(app, ["lines", str(site), "lost_s", "--limit", "0"]).stdout
    refused = run(app, ["lines", str(site), "lots_s"])
    assert isinstance(refused.exception, FigureError)
    assert "lost_s" in str(refused.exception)


def test_without_a_run_or_a_site_it_says_so(tmp_path: Path, site: Path) -> None:
    with pytest.raises(SiteError, match="not a folder"):
        answer_lines(tmp_path / "nowhere", "lost_s", Scope())
    with pytest.raises(StoreError, match="Run airhours run"):
        answer_lines(site, "lost_s", Scope(), database=tmp_path / "none.duckdb")


def test_a_database_of_another_version_is_not_believed(site: Path) -> None:
    with Store(site / DATABASE) as store:
        store.run("update run_seal set seal = 'of an older one'")
    with pytest.raises(StoreError, match="another version"):
        answer_lines(site, "lost_s", Scope())
