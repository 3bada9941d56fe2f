"""Pages made anew: the bytes that a run writes, the path, and what a page opens with as text for a mail."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from pipeline.errors import OutputError, QuestionError
from pipeline.out_lock import held_alone
from pipeline.page_opening import page_opening
from pipeline.report_answers import Wanted, make_report
from tests.command.room import airhours, reseal
from tests.finished_room import Finished

PAGE = """<header><dl class="block"><div><dt>Site</dt><dd>Invented room</dd></div>
<div><dt><a href="x">Data as of</a></dt><dd>1 May 2031</dd></div></dl>
<p class="notice"><strong>1 data check of the kind stop failed.</strong> Do not use</p>
<nav><ul><li>Front page</li></ul><p>nowhere</p></nav></header>
<main><h1>May &amp; June</h1><div><p>One sentence<br>
of   two <a href="y">words</a> <span class="refs">[3, 4]</span>.</p></div>
<p class="small">Lists: 3.</p><svg><title>no</title><text>no</text></svg><p></p><h3>Part 1</h3>
<ul><li>first</li><li>second</li></ul>
<h2>Then</h2><p>not this</p></main><footer><p>nor this</p></footer>"""


def test_the_opening_is_what_stands_before_the_first_heading() -> None:
    """By hand: title, block, the notice and the paragraphs; neither lists, notes, brackets nor anything behind <h2>."""
    assert page_opening(PAGE).split("\n\n") == [
        "May & June",
        "Site: Invented room\nData as of: 1 May 2031",
        "1 data check of the kind stop failed. Do not use",
        "One sentence of two words.",
        "Part 1",
        "- first",
        "- second",
    ]


def _pages(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix == ".html"}


@pytest.mark.parametrize("kind", ["month", "transports", "all"])
def test_pages_of_a_small_room_are_those_of_its_run(small: Path, tmp_path: Path, kind: str) -> None:
    run = _pages(small / "reports")
    report = make_report(small, Wanted(kind), out=tmp_path)
    made = _pages(tmp_path)
    assert [page.name for page in report.pages]
    assert set(made) == {page.name for page in report.pages}
    assert made == {name: run[name] for name in made}
    assert (set(made) == set(run)) == (kind == "all")


@pytest.mark.slow
@pytest.mark.parametrize("room", ["finished", "finished_german"])
def test_pages_of_the_invented_room_are_those_of_its_run(
    room: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    done: Finished = request.getfixturevalue(room)
    site = Path(shutil.copytree(done.site, tmp_path / "site"))
    reseal(site)
    run = _pages(site / "reports")
    some = (Wanted("month", "2031-03"), Wanted("transports"), Wanted("incident", incident="20310316-062602-one"))
    for wanted in some:
        report = make_report(site, wanted, out=tmp_path / "out")
        assert {page.name: page.read_bytes() for page in report.pages} == {
            page.name: run[page.name] for page in report.pages
        }
    if room == "finished":
        make_report(site, Wanted("all"))
        assert _pages(site / "reports") == run
    opening = page_opening(run["month-2031-03.html"].decode())
    assert ("Sendestunden" in opening or "auf Sendung" in opening) == (room == "finished_german")


def test_the_command_prints_the_path_and_the_text_for_a_mail(small: Path, tmp_path: Path) -> None:
    told = airhours("report", "month", small, "--text", "--out", tmp_path).stdout.splitlines()
    assert told[-1] == str(tmp_path / "month-2031-03.html")
    assert max(map(len, told[:-1])) <= 72
    assert any("Data as of: " in line for line in told)
    assert airhours("report", "month", small, "--out", tmp_path).stdout == f"{tmp_path / 'month-2031-03.html'}\n"
    answer = json.loads(airhours("report", "month", small, "--out", tmp_path, "--json").stdout)
    assert answer["pages"] == [str(tmp_path / "month-2031-03.html")]
    assert " ".join(answer["opening"].split()) == " ".join(" ".join(told[:-1]).split())


def test_what_cannot_be_reported_is_said(small: Path, tmp_path: Path) -> None:
    for wanted, words in (
        (Wanted("year"), "Expected one of month, transports, incident, all"),
        (Wanted("month", "2031-07"), 'no month "2031-07"'),
        (Wanted("incident"), "--incident"),
        (Wanted("incident", incident="nothing"), "no incident"),
        (Wanted("all", month="2031-03"), "airhours report month"),
    ):
        with pytest.raises(QuestionError, match=words):
            make_report(small, wanted, out=tmp_path)
    with held_alone(tmp_path), pytest.raises(OutputError, match="in use by another run"):
        make_report(small, Wanted("month"), out=tmp_path)
    assert _pages(tmp_path) == {}


def test_nothing_is_loaded(small: Path, tmp_path: Path) -> None:
    site = Path(shutil.copytree(small, tmp_path / "site"))
    shutil.rmtree(site / "events")
    (site / "tickets.csv").unlink()
    before = _pages(site / "reports")
    make_report(site, Wanted("all"))
    assert _pages(site / "reports") == before
