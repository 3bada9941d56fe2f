"""Every contender does the same job: the same seconds by month and state, the same rows dropped and set aside."""

from __future__ import annotations

import importlib
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from bench.speed.contenders import (
    JOBS,
    PROGRAMS,
    check_answer,
    expected_answer,
    job_command,
    same_site,
    standing_site,
    whole_run,
)
from bench.speed.measuring import AnswerError, run_program
from bench.speed.sites import simulate

PROGRAMS_OF_JOB = ("airhours_job", *PROGRAMS.values())
EVENTS = "at,machine,event,value,detail\n"

# One invented hour. The month of the broadcast day ends at 06:00 in Stockholm, which is 04:00 UTC in summer time.
ROOM = {
    "site.toml": 'name = "Invented room"\ntimezone = "Europe/Stockholm"\nday_starts = "06:00"\nframe_rate = 25\n',
    "events/pair.csv": EVENTS
    + """2031-04-01T03:58:00Z,VT1,roll,,
2031-04-01T03:58:00Z,VT2,roll,,
2031-04-01T03:58:02Z,VT1,lock,,
2031-04-01T03:58:02Z,VT2,lock,,
2031-04-01T03:58:10Z,VT2,offset,0.01,
2031-04-01T03:59:30Z,VT2,unlock,,
2031-04-01T03:59:50Z,VT2,lock,,
2031-04-01T04:00:10Z,VT2,offset,-0.02,VT1
2031-04-01T04:00:20Z,VT1,picture_lost,,
2031-04-01T04:00:55Z,VT2,stop,,
2031-04-01T04:02:00Z,VT1,stop,,
""",
    "events/rest.csv": EVENTS
    + """2031-04-01T05:49:50+02:00,VT4,roll,,
2031-04-01T05:49:51+02:00,VT4,lock,,
2031-04-01T05:50:20.000000,VT4,alive,,
2031-04-01T05:55:00,VT4,alive,,
2031-04-01T03:58:02Z,VT1,lock,,
31/02/2031,VT1,stop,,
2031-04-01T03:58:30Z,VT1,head_swap,,
2031-04-01T03:58:40Z,VT1,offset,much,
2031-04-01T03:58:50Z,,stop,,
""",
    "switches.csv": """at,action,channel,from_machine,to_machine,reason,by
2031-04-01T03:57:59Z,start,One,,VT1,,control
2031-04-01T04:00:25Z,take,One,VT1,VT2,fault,control
2031-04-01T04:00:25Z,take,One,VT1,VT2,fault,control
2031-04-01T04:00:26Z,push,One,VT2,VT1,,control
""",
    "bookings.csv": """booking,transmission,channel,programme,show,reel,machine,role,starts,ends
K1,T1,One,,,,VT1,air,2031-04-01T03:59:00Z,2031-04-01T04:30:00Z
K2,T1,One,,,,VT2,protect,2031-04-01T03:59:00Z,2031-04-01T04:01:00Z
K3,T2,Two,,,,VT3,air,2031-04-01T04:00:30Z,2031-04-01T04:00:50Z
K4,T3,Two,,,,VT4,air,2031-04-01T03:50:00Z,2031-04-01T03:56:40Z
K5,T3,Two,,,,VT4,aerial,2031-04-01T03:50:00Z,2031-04-01T03:56:40Z
K1,T1,One,,,,VT1,air,2031-04-01T03:59:00Z,2031-04-01T04:01:00Z
""",
    "tickets.csv": "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,"
    """written_by
F1,VT1,2031-04-01T04:05:00Z,,,no picture,,,,,,,
F2,VT1,soon,,,no picture,,,,,,,
""",
    "machines.csv": """machine,kind,pair,group,installed,retired,replacement_cost
VT1,tape,P1,,,,
VT2,tape,P1,,,,
VT3,tape,P2,,,,
VT4,tape,P2,,,,
""",
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("room")
    (folder / "events").mkdir()
    for name, text in ROOM.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def _answer(
    program: str, site: Path, tmp_path: Path, *, told: pytest.CaptureFixture[str], patch: pytest.MonkeyPatch
) -> dict[str, Any]:
    patch.setattr(sys, "argv", [program, str(site), str(tmp_path / "database.duckdb")])
    importlib.import_module(f"bench.speed.jobs.{program}").main()
    answer: dict[str, Any] = json.loads(told.readouterr().out)
    return answer


@pytest.mark.parametrize("program", PROGRAMS_OF_JOB)
def test_the_sums_are_those_worked_by_hand(
    program: str, site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # T1 on One, 03:59:00 to 04:01:00. VT2 is in step from the offset at 03:58:10: covered 30 s to 03:59:30. It drops
    # lock: exposed 20 s to 03:59:50. Locked, but no offset since: unproved 10 s to the month's end and 10 s after it.
    # Offset at 04:00:10: covered 10 s. VT1 loses its picture at 04:00:20: lost 5 s to the take. VT2 feeds, VT1 is not
    # good: exposed 30 s to 04:00:55, where VT2 stops in the last 15 s and for good: it ended early, 5 s are no air.
    # T2 on Two, 20 s in April: VT3 says nothing: unknown.
    # T3 on Two, 03:50:00 to 03:56:40, VT4 alone. Its word at 03:50:20 holds 180 s to 03:53:20: exposed 200 s; unknown
    # 100 s to the next word at 03:55:00; exposed 100 s to the end.
    answer = _answer(program, site, tmp_path, told=capsys, patch=monkeypatch)
    march = {"lost_s": 0, "unknown_s": 100, "covered_s": 30, "unproved_s": 10, "exposed_s": 20 + 300}
    april = {"lost_s": 5, "unknown_s": 20, "covered_s": 10, "unproved_s": 10, "exposed_s": 30}
    assert answer["months"] == {"2031-03": march, "2031-04": april}
    # Again: VT1's lock, the take. Aside: four events (time, word, number, machine), an action, a role, a ticket's time.
    # What K1 said first is superseded, not unreadable.
    assert (answer["repeats"], answer["set_aside"]) == (2, 7)


@pytest.mark.slow
def test_the_sums_are_those_of_a_run_on_a_simulated_room(tmp_path: Path) -> None:
    # A month, so that faults abound; one row in fifty repeated, unreadable or out of order.
    room = simulate(tmp_path / "room", 20_000, months=1, mess=0.02, seed=7)
    whole_run("run", room, tmp_path / "run").run()
    own = json.loads(run_program(job_command("airhours_job", room, tmp_path / "job.duckdb")).output)
    expected = expected_answer(tmp_path / "run", own)
    assert expected["repeats"] > 0
    assert sum(states["lost_s"] for states in expected["months"].values()) > 0
    check_answer("job", own, expected)
    for name in JOBS:
        check_answer(name, json.loads(run_program(job_command(PROGRAMS[name], room)).output), expected)


def test_a_contender_that_computes_something_else_is_refused() -> None:
    month = {"lost_s": 5.0, "unknown_s": 0.0, "covered_s": 10.0, "unproved_s": 0.0, "exposed_s": 0.0}
    expected = {"months": {"2031-04": month}, "set_aside": 1, "repeats": 2}
    check_answer("same", expected, expected)
    check_answer("rounded", expected | {"months": {"2031-04": month | {"lost_s": 5.000001}}}, expected)
    others: list[dict[str, Any]] = [
        {"months": {"2031-04": month | {"lost_s": 5.001}}},
        {"months": {"2031-03": month}},
        {"set_aside": 0},
        {"repeats": 3},
    ]
    for other in others:
        with pytest.raises(AnswerError, match="other"):
            check_answer("other", expected | other, expected)


def test_what_cannot_be_held_at_a_size_is_not_tried(tmp_path: Path) -> None:
    small = [each.name for each in same_site(tmp_path, tmp_path, 1_000_000)]
    large = [each.name for each in same_site(tmp_path, tmp_path, 100_000_000)]
    assert small == ["plain", "load", "job", "run", *JOBS]
    assert large == ["plain", "load", "job", "run", "script"]
    assert [each.name for each in standing_site(tmp_path, tmp_path)] == ["again", "help"]  # no incident to tell
