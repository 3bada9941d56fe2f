"""Commands on a small room: figures by group, what is loaded and missing, pages opened, sites that need no name."""

from __future__ import annotations

import csv
import json
import shutil
import stat
from datetime import date
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from pipeline.command import terminal
from pipeline.errors import FigureError, QuestionError
from pipeline.figure_answers import FigureGroup, group_figures, shown_figures
from pipeline.loaded_answers import join_days, read_loaded
from tests.command.room import airhours, reseal

pytestmark = pytest.mark.slow


def figures_of(site: Path) -> dict[str, Any]:
    written: dict[str, Any] = json.loads((site / "reports" / "data" / "figures.json").read_text(encoding="utf-8"))
    return written


def test_figures_into_a_pipe_are_the_document(small: Path) -> None:
    assert json.loads(airhours("figures", small).stdout) == figures_of(small)


@pytest.mark.parametrize(
    ("typed", "group"),
    [
        (("--month", "2031-03"), "months"),
        (("--channel", "Two"), "channels"),
        (("--machine", "VT4"), "machines"),
        (("--month", "2031-03", "--channel", "One"), "month_channels"),
    ],
)
def test_a_group_is_its_entry_and_its_rows(small: Path, typed: tuple[str, ...], group: str) -> None:
    wanted = {typed[i].removeprefix("--"): typed[i + 1] for i in range(0, len(typed), 2)}
    (entry,) = [one for one in figures_of(small)[group] if wanted.items() <= one.items()]
    assert json.loads(airhours("figures", small, *typed).stdout) == entry
    rows = list(csv.DictReader(StringIO(airhours("figures", small, *typed, "--csv").stdout)))
    assert {row["group"] for row in rows} == {group}
    assert float(next(row["value"] for row in rows if row["figure"] == "air_s")) == entry["air_s"]
    table = airhours("figures", small, *typed, "--table").stdout
    assert f"{entry['air_s']:,.3f} s" in table


def test_the_csv_of_all_is_the_file_that_the_run_wrote(small: Path) -> None:
    written = (small / "reports" / "data" / "figures.csv").read_text(encoding="utf-8")
    assert airhours("figures", small, "--csv").stdout == written


def test_what_is_not_known_is_said_and_shares_are_per_cent() -> None:
    total = {"air_s": 7200.0, "continuity": None, "continuity_low": 0.5, "forced": 3, "rate": 0.25}
    figures: dict[str, Any] = {"total": total, "months": [], "channels": [], "machines": [], "month_channels": []}
    shown = dict(shown_figures(figures, FigureGroup()))
    assert shown == {
        "air_s": "7,200.000 s = 2.00 h", "continuity": "not known", "continuity_low": "50.0000 %", "forced": "3",
        "rate": "0.25",
    }  # fmt: skip


def test_a_group_that_is_not_there_is_named_with_near_ones(small: Path) -> None:
    figures = figures_of(small)
    with pytest.raises(FigureError, match=r'no machine "VT11".*Did you mean VT1'):
        group_figures(figures, FigureGroup(machine="VT11"))
    with pytest.raises(FigureError, match=r'no month "march".*2031-03'):
        group_figures(figures, FigureGroup(month="march"))
    with pytest.raises(FigureError, match="no figures by month and machine"):
        group_figures(figures, FigureGroup(month="2031-03", machine="VT1"))
    refused = airhours("figures", small, "--csv", "--table").exception
    assert isinstance(refused, QuestionError)


def test_days_that_follow_each_other_are_joined() -> None:
    days = [date(2031, 2, 27), date(2031, 2, 28), date(2031, 3, 1), date(2031, 3, 3)]
    assert join_days(days) == [(date(2031, 2, 27), date(2031, 3, 1)), (date(2031, 3, 3), date(2031, 3, 3))]


def test_what_is_missing_is_told(small: Path, tmp_path: Path) -> None:
    """VT1 and VT2 log on ten days from 3 March. VT1's lines of the 6th, 7th and 9th go; a file comes, another goes."""
    site = Path(shutil.copytree(small, tmp_path / "site"))
    assert read_loaded(site)["not_loaded"] == []
    log = site / "events" / "VT1.csv"
    lines = log.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(("2031-03-06", "2031-03-07", "2031-03-09"))]
    log.write_text("".join(kept), encoding="utf-8")
    shutil.copy(site / "events" / "VT2.csv", site / "events" / "VT2-more.csv")
    (site / "reels.csv").unlink()
    told = read_loaded(site)
    assert told["not_loaded"] == [
        {"file": "events/VT1.csv", "feed": "events", "standing": "changed"},
        {"file": "events/VT2-more.csv", "feed": "events", "standing": "new"},
        {"file": "reels.csv", "feed": "reels", "standing": "gone"},
    ]
    assert told["wanting"] == [{"feed": "reels", "table": 0, "paths": ["reels.csv"], "is_required": False}]
    text = airhours("loaded", site, "--missing").stdout
    assert "  events/VT2-more.csv (events): new" in text
    (site / "events" / "VT2-more.csv").unlink()
    assert airhours("run", site, "--quiet").exit_code == 0
    (vt1,) = [each for each in read_loaded(site)["logs"] if each["machine"] == "VT1"]
    assert vt1 == {
        "feed": "events", "machine": "VT1", "from": "2031-03-03", "to": "2031-03-12", "silent_days": 3,
        "silent": [{"from": "2031-03-06", "to": "2031-03-07"}, {"from": "2031-03-09", "to": "2031-03-09"}],
    }  # fmt: skip
    assert "  VT1, 2031-03-03 to 2031-03-12: 2031-03-06 to 2031-03-07, 2031-03-09" in airhours("loaded", site).stdout
    assert json.loads(airhours("loaded", site, "--missing", "--json").stdout) == read_loaded(site)


def test_a_feed_table_that_no_file_answers_is_named(small: Path, tmp_path: Path) -> None:
    site = Path(shutil.copytree(small, tmp_path / "site"))
    with (site / "site.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[feeds]]\nkind = "tickets"\npath = "tickets.csv"\n')
        file.write('\n[[feeds]]\nkind = "tickets"\npath = "annexe/*.csv"\n')
    assert read_loaded(site)["wanting"] == [
        {"feed": "tickets", "table": 2, "paths": ["annexe/*.csv"], "is_required": True}
    ]
    assert "tickets: no file by [[feeds]] table 2 (annexe/*.csv); needed" in airhours("loaded", site).stdout


def test_the_site_need_not_be_named_inside_it(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    named = airhours("figures", small, "--csv").stdout
    lines = airhours("lines", small, "lost_s", "--json").stdout
    monkeypatch.chdir(small)
    assert airhours("figures", "--csv").stdout == named
    assert airhours("lines", "lost_s", "--json").stdout == lines
    assert airhours("lines", ".", "lost_s", "--json").stdout == lines
    assert airhours("open", "2031-03").stdout == "reports/month-2031-03.html\n"
    monkeypatch.chdir(small.parent)
    refused = airhours("figures").exception
    assert isinstance(refused, QuestionError)
    assert "site.toml" in str(refused)


def test_a_page_is_opened_by_the_browser_that_is_named(small: Path, tmp_path: Path) -> None:
    browser, seen = tmp_path / "browser", tmp_path / "seen"
    browser.write_text(f'#!/bin/sh\necho "$1" >> {seen}\n', encoding="utf-8")
    browser.chmod(browser.stat().st_mode | stat.S_IEXEC)
    incident = json.loads(airhours("lines", small, "interruptions", "--json").stdout)["items"][0]
    assert incident
    for page, name in (("", "index.html"), ("2031-03", "month-2031-03.html"), ("transports", "transports.html")):
        opened = airhours("open", small, *filter(None, [page]), "--json", BROWSER=str(browser), DISPLAY="")
        path = small / "reports" / name
        assert json.loads(opened.stdout) == {"page": str(path), "is_opened": True}
        assert seen.read_text(encoding="utf-8").splitlines()[-1] == path.resolve().as_uri()


def test_without_a_display_the_path_is_printed_and_said(small: Path) -> None:
    told = airhours("open", small, BROWSER="", DISPLAY="", WAYLAND_DISPLAY="")
    assert told.stdout == f"{small / 'reports' / 'index.html'}\n"
    assert told.stderr == "no display to open it on: the page is at that path\n"
    assert isinstance(airhours("open", small, "nothing").exception, QuestionError)
    assert isinstance(airhours("open", small.parent).exception, QuestionError)


def test_bold_on_terminals_only_and_not_where_no_colour_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal.sys.stdout, "isatty", lambda: True, raising=False)
    for name in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    assert terminal.strong("head") == "\x1b[1mhead\x1b[0m"
    monkeypatch.setenv("NO_COLOR", "1")
    assert terminal.strong("head") == "head"
    monkeypatch.setenv("NO_COLOR", "")  # no-color.org: only where it is not empty
    assert terminal.strong("head") != "head"
    monkeypatch.setattr(terminal.sys.stdout, "isatty", lambda: False, raising=False)
    assert terminal.strong("head") == "head"


def test_text_for_a_mail_keeps_its_width_and_its_indents() -> None:
    text = terminal.for_mail(f"{'word ' * 40}\n\n  {'longer ' * 20}")
    assert max(map(len, text.splitlines())) <= 72
    before, _, after = text.partition("\n\n")
    assert before.split() == ["word"] * 40
    assert all(line.startswith("  longer") for line in after.splitlines())


def test_an_export_says_what_it_wrote(small: Path, tmp_path: Path) -> None:
    told = json.loads(airhours("export", small, tmp_path / "out", "--json").stdout)
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == told["files"]
    assert "core_incidents.parquet" in told["files"]
    reseal(small)
