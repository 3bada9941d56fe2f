"""What happened then: by id and by time, across the hour that comes twice, on channels whose names try to break out."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import QuestionError, StoreError
from pipeline.flow import run_site
from pipeline.incident_answers import Answer, Question, answer_incident
from pipeline.out_lock import held_alone
from pipeline.store import Store
from tests.finished_room import run_without_pages
from tests.test_cli import in_own_process as airhours
from tests.test_cli import refuses
from tests.test_flow import bytes_of, quiet

pytestmark = pytest.mark.slow

# Central European clocks go back on the last Sunday of October at 01:00 UTC (Directive 2000/84/EC, from memory): on 26
# October 2031 the hour from 02:00 comes twice, at 00:00 UTC and at 01:00 UTC.
FIRST, SECOND = "20311026-002000-late", "20311026-012000-late"
PATH = '../../<script>"x'
TOML = 'name = "Invented room"\ntimezone = "Europe/Stockholm"\nday_starts = "06:00"\nframe_rate = 25\n'
EVENTS = """at,machine,event,value,detail
2031-10-25T23:29:30Z,T1,roll,,
2031-10-25T23:29:30Z,T2,roll,,
2031-10-25T23:29:34Z,T1,lock,,
2031-10-25T23:29:34Z,T2,lock,,
2031-10-25T23:29:40Z,T1,offset,0.01,T2
2031-10-26T00:20:00Z,T1,picture_lost,,
2031-10-26T00:22:00Z,T1,picture_back,,\x1b[31m
2031-10-26T01:20:00Z,T2,picture_lost,,
2031-10-26T01:25:00Z,T2,picture_back,,
2031-10-26T02:30:05Z,T1,stop,,
2031-10-26T02:30:05Z,T2,stop,,
2031-10-26T03:00:00Z,T3,roll,,
2031-10-26T03:00:05Z,T3,lock,,
2031-10-26T04:00:00Z,T3,stop,,
"""
SWITCHES = """at,action,channel,from_machine,to_machine,reason,by
2031-10-26T00:20:06Z,take,Late,T1,T2,fault,Ada Real
2031-10-26T01:20:09Z,take,Late,T2,T1,fault,Ada Real
"""


def booked(number: int, channel: str, machine: str, role: str, hours: tuple[str, str]) -> str:
    cell = channel.replace('"', '""')
    return f'B{number},X{number // 2},"{cell}",Moss,part 1,K{number},{machine},{role},{hours[0]},{hours[1]}\n'


def write_room(site: Path) -> Path:
    """Two losses an hour apart at the same wall time; then three channels with odd names, one after the other."""
    (site / "events").mkdir(parents=True)
    night = ("2031-10-25T23:30:00Z", "2031-10-26T02:30:00Z")
    odd = [f"2031-10-26T03:{minute:02d}:00Z" for minute in (1, 11, 21, 31)]
    rows = [booked(0, "Late", "T1", "air", night), booked(1, "Late", "T2", "protect", night)]
    rows += [
        booked(2 * number, channel, "T3", "air", (odd[number - 1], odd[number]))
        for number, channel in enumerate(("Z/1", "Z 1", PATH), 1)
    ]
    header = "booking,transmission,channel,programme,show,reel,machine,role,starts,ends\n"
    files = {
        "site.toml": TOML,
        "events/log.csv": EVENTS,
        "switches.csv": SWITCHES,
        "bookings.csv": header + "".join(rows),
    }
    files["tickets.csv"] = "ticket,machine,opened\n"
    for name, text in files.items():
        (site / name).write_text(text, encoding="utf-8")
    return site


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Path:
    site = write_room(tmp_path_factory.mktemp("room") / "site")
    run_site(site, narrate=quiet)
    return site


@pytest.fixture
def site(ran: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(ran, tmp_path / "site"))


def ask(site: Path, at: str, channel: str = "Late", **more: Any) -> Answer:
    return answer_incident(site, Question(at=at, channel=channel, until=more.pop("until", "")), **more)


@pytest.mark.parametrize(("name", "lost_s"), [(FIRST, 6.0), (SECOND, 9.0)])
def test_an_id_gives_the_page_the_run_wrote_and_nothing_else_changes(site: Path, name: str, lost_s: float) -> None:
    before = bytes_of(site)
    answer = answer_incident(site, Question(name))
    assert answer.page == site / "reports" / f"incident-{name}.html"
    assert bytes_of(site) == before
    assert (answer.data["incident"], answer.data["lost_s"]) == (name, lost_s)
    assert f"{lost_s:g} s of air lost." in answer.text
    assert answer.has_run


def test_the_page_is_made_again_byte_for_byte_where_it_is_gone_or_altered(site: Path, tmp_path: Path) -> None:
    page = site / "reports" / f"incident-{FIRST}.html"
    whole = page.read_bytes()
    for spoil in (page.unlink, lambda: page.write_text("altered", encoding="utf-8")):
        spoil()
        answer_incident(site, Question(f" incident-{FIRST}.html"))
        assert page.read_bytes() == whole
    elsewhere = answer_incident(site, Question(FIRST), out=tmp_path / "mail")
    assert elsewhere.page.read_bytes() == whole
    assert not elsewhere.has_run


def test_the_hour_that_came_twice_asks_which_one(ran: Path) -> None:
    with pytest.raises(QuestionError, match=r"was twice.*\+02:00 or \+01:00"):
        ask(ran, "2031-10-26 02:20")
    assert ask(ran, "2031-10-26 02:20+02:00").data["incident"] == FIRST
    assert ask(ran, "2031-10-26 02:20+01:00").data["incident"] == SECOND
    assert ask(ran, "2031-10-26 01:20:04Z").data["incident"] == SECOND


def test_a_window_over_both_is_no_incident_and_tells_both(site: Path) -> None:
    answer = ask(site, "2031-10-26 01:50", until="2031-10-26 03:10")
    assert answer.page.name == "window-20311025-235000-late-to-20311026-021000.html"
    text = " ".join(answer.text.split())
    assert "26 October 2031, 01:50:00 to 03:10:00 CET: channel Late" in text
    assert (
        "2 h 20 min of channel Late. Two events of the channel touch it and are told whole: 15 s of air lost." in text
    )
    assert "it begins in CEST and ends in CET" in text
    assert [part["incident"] for part in answer.data["parts"]] == [FIRST, SECOND]
    assert "02:20:06 CET" not in text  # 00:20:06 UTC was summer time


def test_until_keeps_to_the_incident_as_far_as_its_page_shows(ran: Path) -> None:
    # The first loss lasts to 00:20:06, its incident to 00:22, when air is covered again; its page adds 600 s to that.
    assert ask(ran, "2031-10-26 00:15Z", until="2031-10-26 00:30Z").data["incident"] == FIRST
    assert ask(ran, "2031-10-26 00:15Z", until="2031-10-26 00:33Z").data["incident"] is None
    assert ask(ran, "2031-10-26 00:05Z", until="2031-10-26 00:30Z").data["incident"] is None


def test_a_quiet_minute_has_a_page_of_its_own_that_no_run_misses_or_removes(site: Path) -> None:
    answer = ask(site, "2031-10-26 00:50Z")
    assert answer.page == site / "reports" / "window-20311026-005000-late.html"
    assert "No interruption, no protect switch and no rescue lies in it." in " ".join(answer.text.split())
    page, files = answer.page.read_bytes(), bytes_of(site / "reports")
    again = run_site(site, narrate=quiet)
    assert not again.is_changed
    assert bytes_of(site / "reports") == files
    with (site / "switches.csv").open("a", encoding="utf-8") as switches:
        switches.write("2031-10-26T02:00:00Z,start,Late,,T1,,Ada Real\n")
    assert run_site(site, narrate=quiet).is_changed
    assert answer.page.read_bytes() == page
    manifest = json.loads((site / "reports" / "data" / "manifest.json").read_text(encoding="utf-8"))
    assert not [name for name in manifest["files"] if name.startswith("window-")]
    ask(site, "2031-10-26 00:50Z")
    assert not run_site(site, narrate=quiet).is_changed


def test_channels_that_are_written_alike_have_pages_of_their_own_inside_the_folder(site: Path) -> None:
    before = set(bytes_of(site.parent))
    names = []
    for channel, minute in (("Z/1", 5), ("Z 1", 5), (PATH, 25)):
        answer = ask(site, f"2031-10-26 03:{minute:02d}Z", channel)
        html = answer.page.read_text(encoding="utf-8")
        assert html.count("<script") == 1, "the pages' own script and no other"
        assert all(line.isprintable() for line in answer.text.split("\n"))
        assert answer.data["channel"] == channel
        names.append(answer.page.name)
    assert names == [
        "window-20311026-030500-z-1-2.html",  # "Z 1" sorts before "Z/1"
        "window-20311026-030500-z-1.html",
        "window-20311026-032500-script-x.html",
    ]
    assert set(bytes_of(site.parent)) - before == {f"site/reports/{name}" for name in names}


def test_nobodys_name_and_no_sign_that_steers_a_terminal_is_told(ran: Path) -> None:
    answer = answer_incident(ran, Question(FIRST))
    assert "Ada" not in answer.text + json.dumps(answer.data)
    assert "picture back" in answer.text
    assert "\x1b" not in answer.text + json.dumps(answer.data)


@pytest.mark.parametrize(
    ("question", "words"),
    [
        (Question(), ("Name an incident by its id, or a time with --at",)),
        (Question(FIRST, at="2031-10-26 01:20"), ("not both",)),
        (Question("20311026-002000-lat"), ("There is no incident", f"Near it: {FIRST}, {SECOND}")),
        (Question("\x1b[2Jnothing like it"), ("There is no incident", "name all 2")),
        (Question(at="2031-10-26 00:20Z"), ("needs a channel", "Late", "Z 1", "Z/1")),
        (Question(at="2031-10-26 00:20Z", channel="Early"), ('no channel "Early"', "The channels are", "Late")),
        (Question(at="last night", channel="Late"), ('"last night" is not a time', "Expected", "Europe/Stockholm")),
        (
            Question(at="2031-10-24 02:20", channel="Late"),  # the first line is stamped 23:29:30 UTC on the 25th
            ("outside the data", "from 26 October 2031 at 01:29:30 CEST to 26 October 2031 at 05:00:00 CET"),
        ),
        (Question(at="2031-10-26 05:01", channel="Late"), ("outside the data",)),
        (Question(at="2031-10-26 01:20", until="2031-10-26 01:20", channel="Late"), ("does not come after",)),
        (Question(at="2031-10-26 01:20", until="2031-10-27 04:00", channel="Late"), ("at most 24 h",)),
        (Question(until="2031-10-27 04:00", channel="Late"), ("--at",)),
    ],
)
def test_what_cannot_be_answered_says_why_and_what_can(ran: Path, question: Question, words: tuple[str, ...]) -> None:
    before = bytes_of(ran)
    with pytest.raises(QuestionError) as told:
        answer_incident(ran, question)
    assert str(told.value).isprintable()
    for word in words:
        assert word in str(told.value)
    assert bytes_of(ran) == before


def test_capitals_and_the_only_channel_need_no_care(site: Path) -> None:
    assert ask(site, "2031-10-26 00:20Z", "late").data["incident"] == FIRST
    lines = (site / "bookings.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (site / "bookings.csv").write_text("".join(lines[:3]), encoding="utf-8")
    run_without_pages(site)
    assert ask(site, "2031-10-26 00:20Z", "").data["incident"] == FIRST


def test_a_database_of_another_version_is_not_read(site: Path) -> None:
    with Store(site / "airhours.duckdb") as store:
        store.run("update run_seal set seal = 'another'")
    with pytest.raises(StoreError, match=r"another version of airhours\. Run airhours run .*site first\."):
        answer_incident(site, Question(FIRST))


def test_the_command_prints_the_same_as_text_and_as_json(site: Path) -> None:
    answer = answer_incident(site, Question(FIRST))
    # Both processes below hold the same files of the program, so the database is theirs.
    assert airhours("run", site, "--quiet").returncode == 0
    told = airhours("incident", site, FIRST)
    assert (told.returncode, told.stderr) == (0, "")
    assert told.stdout == f"{answer.text}\n\npage {answer.page}\n"
    at = airhours("incident", site, "--at", "2031-10-26 02:20+02:00", "--channel", "Late", "--json")
    assert json.loads(at.stdout) == json.loads(json.dumps({**answer.data, "page": str(answer.page)}))


def test_the_command_refuses_in_one_line(site: Path, tmp_path: Path) -> None:
    refuses(airhours("incident", tmp_path, FIRST), "does not exist", f"airhours run {tmp_path}")
    refuses(airhours("incident", site, "nothing"), "There is no incident")
    with held_alone(site / "reports"):
        refuses(airhours("incident", site, FIRST), "in use by another run")
    assert (site / "reports" / f"incident-{FIRST}.html").is_file()


def test_an_out_folder_of_its_own_is_said_to_lack_the_other_pages(site: Path, tmp_path: Path) -> None:
    told = airhours("incident", site, FIRST, "--out", tmp_path / "mail")
    assert told.returncode == 0, told.stderr
    assert told.stdout.splitlines()[-2:] == [
        f"page {tmp_path / 'mail' / f'incident-{FIRST}.html'}",
        f"Pages it links to are not there: airhours run {site} --out {tmp_path / 'mail'} writes them.",
    ]
    assert sorted(path.name for path in (tmp_path / "mail").iterdir()) == ["assets", f"incident-{FIRST}.html"]


def test_the_answer_is_quick_because_it_loads_few_libraries(site: Path) -> None:
    code = "import sys; from pipeline.cli import main\nsys.argv = ['airhours', *sys.argv[1:]]\ntry: main()\n"
    code += "except SystemExit as end: print(end.code)\n"
    code += "print(sorted({'great_expectations', 'altair', 'scipy', 'pandas', 'numpy'} & set(sys.modules)))"
    command = [sys.executable, "-c", code, "incident", str(site), FIRST]
    result = subprocess.run(command, capture_output=True, text=True, check=True)
    assert result.stdout.splitlines()[-2:] == ["0", "[]"]
