"""A person's rulings through a whole run: what each changes, worked by hand, and that nothing else changes.

The room and its people are invented. Times are UTC. Without a ruling it is so:

- One, 20:00 to 21:00, VT1 for air and VT2 for protect, in step. At 20:10:00 the feed goes to VT2 and nobody says why
  (VT1 is good and has no alarm: unexplained), at 20:12:00 back to VT1 (booked for air, both good: return). At 20:20:00
  VT1 loses its picture, at 20:20:08 VT2 is taken (forced), at 20:25:00 VT1 has its picture again.
  Covered 20:00:00-20:20:00 (1,200 s), lost 8 s, exposed until 20:25:00 (292 s), covered until 21:00:00 (2,100 s).
- Two, 20:00 to 21:00, VT3 alone. No picture from 20:40:00 to 20:40:12: 12 s lost, healed; exposed 3,588 s.
- Incidents: the switch of 20:10:00 and the loss of 20:20:00 lie 600 s apart on One, closer than 900 s; that on Two
  shares nothing with them.
- The ticket of 20:22 is on VT1: nearest to the loss of 20:20:00, whose cause it states. The other two events have none.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from pipeline.flow import RunResult, run_site
from pipeline.ingest.feeds import FEEDS
from pipeline.store import Store

pytestmark = pytest.mark.slow

TOML = 'name = "Invented room"\ntimezone = "UTC"\nday_starts = "00:00"\nframe_rate = 25\n'
DAY = "2031-03-01T"
FILES = {
    "events/VT1.csv": """at,machine,event,value,detail
19:55:00Z,VT1,roll,,
19:55:04Z,VT1,lock,,
20:20:00Z,VT1,picture_lost,,
20:25:00Z,VT1,picture_back,,
21:00:01Z,VT1,stop,,
""",
    "events/VT2.csv": """at,machine,event,value,detail
19:55:00Z,VT2,roll,,
19:55:04Z,VT2,lock,,
19:56:00Z,VT2,offset,0.01,VT1
21:00:01Z,VT2,stop,,
""",
    "events/VT3.csv": """at,machine,event,value,detail
19:55:00Z,VT3,roll,,
19:55:04Z,VT3,lock,,
20:40:00Z,VT3,picture_lost,,
20:40:12Z,VT3,picture_back,,
21:00:01Z,VT3,stop,,
""",
    "switches.csv": """at,action,channel,from_machine,to_machine,reason,by
20:10:00Z,take,One,VT1,VT2,,crew
20:12:00Z,take,One,VT2,VT1,,crew
20:20:08Z,take,One,VT1,VT2,fault,crew
""",
    "tickets.csv": "ticket,machine,opened,cause\nF1,VT1,20:22:00Z,clogged\n",
    "bookings.csv": """booking,transmission,channel,machine,role,starts,ends
B1,X1,One,VT1,air,20:00:00Z,21:00:00Z
B2,X1,One,VT2,protect,20:00:00Z,21:00:00Z
B3,X2,Two,VT3,air,20:00:00Z,21:00:00Z
""",
}
HEADER = "ruling,rules,channel,at,until,says,by,decided,why\n"
SCRIPT = "<script>alert(1)</script>"
PERSON = "Wilhelmina Nobody"
RULINGS = {
    "none": None,
    "empty": "",
    "header": HEADER,
    "switch": HEADER + "R1,switch,One,20:10:01Z,,planned,,,Line-up before the film\n",
    "cause": HEADER + "R2,cause,One,20:20:04Z,,server: port,,,The engineer was there\n",
    "joined": HEADER + "R3,one incident,,20:20:00Z,20:40:00Z,,,,One mains dip\n",
    "not air": HEADER + "R4,not air,One,20:20:04Z,20:30:00Z,,,,The transmitter was down\n",
    "misfit": HEADER
    + f"R5,switch,Two,20:40:00Z,,planned,{PERSON},{DAY}21:00:00Z,{SCRIPT}\n"
    + f'{SCRIPT},cause,One,20:20:04Z,,"=cmd() {SCRIPT}",{PERSON},,Told by {SCRIPT}\n'
    + f"R6,not air,One,20:30:00Z,20:20:00Z,,{PERSON},,Backwards\n"
    + f"R7,rain,One,20:30:00Z,,,{PERSON},,No such word\n",
}
BEFORE = {
    "air_s": 7200, "lost_s": 20, "covered_s": 3300, "exposed_s": 3880, "interruptions": 2, "forced": 1, "precaution": 0,
    "unexplained": 1, "planned": 0, "return": 1, "protect_switches": 2, "demands": 2, "demands_met": 1,
    "demands_healed": 1, "demands_unprotected": 1,
}  # fmt: skip


@dataclass(frozen=True)
class Ran:
    """One room after a run."""

    site: Path
    result: RunResult
    figures: dict[str, Any]

    def page(self, name: str) -> str:
        """The text of a page."""
        return (self.site / "reports" / name).read_text(encoding="utf-8")

    def read(self, sql: str) -> list[tuple[Any, ...]]:
        """The rows of a select."""
        with Store(self.site / "airhours.duckdb", read_only=True) as store:
            return store.read(sql).rows()

    def total(self) -> dict[str, Any]:
        """The figures of the whole room that the head of this file works."""
        return {name: self.figures["total"][name] for name in BEFORE}

    def incidents(self) -> dict[str, int]:
        """Incidents with the number of their parts."""
        return dict(self.read("select incident, parts_count from core_incidents"))


def run(site: Path) -> RunResult:
    return run_site(site, narrate=lambda _: None)


def lay_out(site: Path, rulings: str | None) -> Path:
    (site / "events").mkdir(parents=True)
    (site / "site.toml").write_text(TOML, encoding="utf-8")
    for name, text in FILES.items():
        (site / name).write_text(dated(text), encoding="utf-8")
    if rulings is not None:
        (site / "rulings.csv").write_text(dated(rulings), encoding="utf-8")
    return site


def dated(text: str) -> str:
    """The text with the day before each time of day that has none."""
    return ",".join(
        f"{DAY}{cell}" if cell[:1].isdigit() and cell.endswith("Z") and DAY not in cell else cell
        for cell in text.replace("\n", ",\n,").split(",")
    ).replace(",\n,", "\n")


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Ran]:
    """A room by the name of its rulings, run once."""
    known: dict[str, Ran] = {}

    def get(name: str) -> Ran:
        if name not in known:
            site = lay_out(tmp_path_factory.mktemp("room") / "site", RULINGS[name])
            result = run(site)
            text = (site / "reports" / "data" / "figures.json").read_text(encoding="utf-8")
            known[name] = Ran(site, result, json.loads(text))
        return known[name]

    return get


@pytest.fixture
def before(ran: Callable[[str], Ran]) -> Ran:
    return ran("none")


def causes(room: Ran) -> dict[str, tuple[int, float]]:
    return {f"{row['top']}: {row['second']}": (row["count"], row["lost_s"]) for row in room.figures["causes"]}


def test_without_rulings(before: Ran) -> None:
    assert before.total() == BEFORE
    assert before.incidents() == {"20310301-201000-one": 2, "20310301-204000-two": 1}
    assert causes(before) == {"heads and tape path: clogged": (1, 8.0), "unknown: record missing": (2, 12.0)}
    assert before.figures["rulings"] == []
    assert "Nobody has ruled otherwise" in before.page("data-quality.html")


@pytest.mark.parametrize("name", ["empty", "header"])
def test_an_empty_file_of_rulings_changes_no_figure(before: Ran, ran: Callable[[str], Ran], name: str) -> None:
    """But for the account of that file itself, of which no row was read."""
    figures = dict(ran(name).figures)
    assert [file["path"] for file in figures["files"] if file["feed"] == "rulings"] == ["rulings.csv"]
    figures["files"] = [file for file in figures["files"] if file["feed"] != "rulings"]
    assert figures == before.figures


def test_a_switch_ruled_planned_is_no_protect_switch(ran: Callable[[str], Ran]) -> None:
    """The switch of 20:10:00, a second from the ruling, and no longer an event: its incident begins with the loss."""
    room = ran("switch")
    assert room.total() == {**BEFORE, "unexplained": 0, "planned": 1, "protect_switches": 1}
    assert room.incidents() == {"20310301-202000-one": 1, "20310301-204000-two": 1}
    (ruling,) = room.figures["rulings"]
    told = (ruling["ruling"], ruling["overrode"], ruling["fits_count"], ruling["is_fitting"], ruling["why_not"])
    assert told == ("R1", "unexplained", 1, True, None)
    assert (ruling["at_utc"], ruling["until_utc"]) == (f"{DAY}20:10:01Z", None)
    assert room.read("select kind, found_kind, ruling from core_switches order by switch_no") == [
        ("planned", "unexplained", "R1"), ("return", "return", None), ("forced", "forced", None),
    ]  # fmt: skip
    assert "unexplained" in _row(room.page("data-quality.html"), "R1")
    assert "Line-up before the film" in _row(room.page("data-quality.html"), "R1")


def test_a_cause_is_of_every_event_of_the_incident(ran: Callable[[str], Ran]) -> None:
    """Both events on One: the loss, 8 s, whose ticket states another, and the switch of 20:10:00 without a ticket."""
    room = ran("cause")
    assert room.total() == BEFORE
    assert causes(room) == {"server: port": (2, 8.0), "unknown: record missing": (1, 12.0)}
    (ruling,) = room.figures["rulings"]
    found = "heads and tape path: clogged (1 event); unknown: record missing (1 event)"
    assert (ruling["overrode"], ruling["fits_count"]) == (found, 2)
    month = room.page("month-2031-03.html")
    assert month.count("Cause by ruling R2; the program found heads and tape path: clogged.") == 1
    assert month.count("Cause by ruling R2; the program found unknown: record missing.") == 1
    assert "server: port (ruled)" in month


def test_events_of_two_incidents_are_ruled_to_be_one(ran: Callable[[str], Ran]) -> None:
    """The loss on One and that on Two, and with the first the switch of 20:10:00, which was of its incident."""
    room = ran("joined")
    assert room.total() == BEFORE
    assert room.incidents() == {"20310301-201000-one": 3}
    (ruling,) = room.figures["rulings"]
    assert (ruling["overrode"], ruling["fits_count"]) == (
        "2 incidents: 20310301-201000-one, 20310301-204000-two", 2,
    )  # fmt: skip
    assert room.page("month-2031-03.html").count("One incident by ruling R3; the program found several.") == 3


def test_what_is_ruled_no_air_is_in_no_figure(ran: Callable[[str], Ran]) -> None:
    """20:20:04 to 20:30:00 on One, 596 s. Left: covered 1,200 s, lost 4 s, covered from 20:30:00 1,800 s.

    The loss is cut short and neither met nor healed; the take of 20:20:08 is no switch.
    """
    room = ran("not air")
    assert room.total() == {
        **BEFORE, "air_s": 6604, "lost_s": 16, "covered_s": 3000, "exposed_s": 3588, "forced": 0, "protect_switches": 1,
        "demands_met": 0,
    }  # fmt: skip
    assert (room.figures["total"]["to_air_s"]["n"], room.figures["total"]["to_air_s"]["open"]) == (2, 1)
    (ruling,) = room.figures["rulings"]
    assert (ruling["overrode"], ruling["fits_count"]) == ("596 s within the air window of X1", 1)
    stopped = room.read("select check_id from check_results where severity = 'stop' and not is_passed")
    assert stopped == []


@pytest.mark.parametrize("name", [name for name, text in RULINGS.items() if text])
def test_no_row_of_another_feed_is_touched(before: Ran, ran: Callable[[str], Ran], name: str) -> None:
    others = [feed.name for feed in FEEDS if feed.name != "rulings"]
    for table in [*(f"raw_{feed}" for feed in others), *(f"clean_{feed}" for feed in others)]:
        select = f"select * from {table} order by file, line"
        assert ran(name).read(select) == before.read(select), table
        assert before.read(f"select count(*) > 0 from {table}") == [
            (table.partition("_")[2] not in ("machines", "reels"),)
        ]


def test_what_fits_nothing_is_reported_and_changes_nothing(before: Ran, ran: Callable[[str], Ran]) -> None:
    room = ran("misfit")
    kept = {name: value for name, value in room.figures.items() if name not in ("rulings", "rows", "files")}
    assert kept == {name: value for name, value in before.figures.items() if name in kept}
    told = {row["ruling"]: (row["is_fitting"], row["fits_count"], row["why_not"]) for row in room.figures["rulings"]}
    assert told == {
        "R5": (False, 0, "no switch on Two lies within 2 s of that time"),
        "R6": (False, 0, "its until is missing or not after its at"),
        SCRIPT: (False, 0, f'it says "=cmd() {SCRIPT}", which is no cause of the list of causes'),
    }
    assert room.read("select what from check_findings where check_id = 'rulings_that_fit_nothing' order by line") == [
        (f'ruling "{name}": {told[name][2]}',) for name in ("R5", SCRIPT, "R6")
    ]
    assert not room.result.is_stopped
    page = room.page("data-quality.html")
    assert "no switch on Two lies within 2 s of that time" in _row(page, "R5")
    assert "is not a kind of ruling. Expected one of switch, cause, one incident, not air." in page


def test_hostile_words_are_shown_as_text_and_who_ruled_is_not_shown(ran: Callable[[str], Ran]) -> None:
    room = ran("misfit")
    pages = {path.name: path.read_text(encoding="utf-8") for path in (room.site / "reports").glob("*.html")}
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in pages["data-quality.html"]
    for name, text in pages.items():
        assert SCRIPT not in text, name
    files = [path for path in (room.site / "reports").rglob("*") if path.suffix in (".html", ".json", ".csv")]
    files = [path for path in files if path.name != "set_aside.csv"]  # it gives rows as they stand in their file
    assert len(files) > 8
    for path in files:
        assert PERSON not in path.read_text(encoding="utf-8"), path.name
    assert room.read("select distinct ruled_by from clean_rulings") == [(PERSON,)]


def test_who_ruled_is_shown_where_the_site_has_persons_shown(tmp_path: Path) -> None:
    site = lay_out(tmp_path / "site", RULINGS["misfit"])
    with (site / "site.toml").open("a", encoding="utf-8") as file:
        file.write("show_persons = true\n")
    run(site)
    page = (site / "reports" / "data-quality.html").read_text(encoding="utf-8")
    assert f" by {PERSON}</td>" in _row(page, "R5")


def test_a_ruling_is_applied_at_every_run_and_gone_with_its_row(tmp_path: Path, before: Ran) -> None:
    """A second run changes nothing; a row that is taken out again leaves everything as if it had not been written."""
    site = lay_out(tmp_path / "site", RULINGS["switch"])
    first = run(site)
    again = run(site)
    assert (first.is_changed, again.is_changed) == (True, False)
    assert again.figures["total"]["planned"] == 1
    (site / "events" / "VT9.csv").write_text(
        f"at,machine,event,value,detail\n{DAY}20:30:00Z,VT9,clean,,\n", encoding="utf-8"
    )
    assert run(site).figures["total"]["planned"] == 1  # with news from elsewhere too
    (site / "events" / "VT9.csv").unlink()
    (site / "rulings.csv").unlink()
    assert run(site).figures == before.figures


def _row(page: str, ruling: str) -> str:
    """The row of the table of rulings that begins with the ruling's name."""
    return next(line for line in page.splitlines() if f'<th scope="row">{ruling}</th>' in line)
