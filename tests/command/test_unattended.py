"""Runs that nobody watches: the log, the waiting, the exit statuses, the files for systemd and cron as they stand."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest

from pipeline import run_log
from pipeline.command.running import _when_free
from pipeline.errors import BusyOutputError, BusyStoreError, OutputError
from pipeline.out_lock import held_alone
from pipeline.run_log import RunLog
from pipeline.run_summary import summary
from pipeline.store import Store
from tests.command.room import airhours
from tests.docs.commands import make_command
from tests.safety.room import write_room

pytestmark = pytest.mark.slow

NIGHTLY = Path(__file__).resolve().parent.parent.parent / "docs" / "nightly"
PROGRAM, SITE, LOG = "/opt/airhours/bin/airhours", "/srv/tape-room", "/var/log/airhours/nightly.log"
LINE = re.compile(r"(\S+) \[(\d+)\] (.+)")
TOTAL = {
    "air_s": 7200.0, "lost_s": 18.0, "unknown_s": 720.0, "continuity": 0.9975, "continuity_low": 0.8975,
    "continuity_high": 0.9975, "interruptions": 2, "protect_switches": 1, "forced": 1, "precaution": 0,
    "unexplained": 0, "protect_switches_per_1000_air_h": {"value": 500.0, "low": 12.66, "high": 2785.8}, "demands": 2,
    "demands_met": 1,
}  # fmt: skip
FIGURES = {"site": "Invented room", "timezone": "Europe/Stockholm", "as_of": "2031-07-01T18:30:00Z", "total": TOTAL}


def test_the_paragraph_says_what_the_figures_say() -> None:
    """18:30 UTC is 20:30 in Swedish summer; 720 of 7,200 s are 10 %; the limits of one in two hours are Garwood's."""
    assert summary(FIGURES, {"note": 1}) == (
        "Invented room, data as of 2031-07-01 20:30 (Europe/Stockholm). On air 2.00 h, continuity of logged programme"
        " 99.7500 % (bounds 89.7500 to 99.7500 %). 2 interruptions lost 18.0 s of air. 1 protect switch (1 forced, 0 as"
        " a precaution, 0 unexplained): 500.0 per 1,000 air h, 95 % limits 12.7 to 2,785.8. Protect was needed 2 times"
        " and met the demand once. Not known is the state of 0.20 h of air (10.00 %). No data check of the stop kind"
        " failed; 1 data check of the note kind failed."
    )
    stopped = summary({**FIGURES, "as_of": None, "total": {**TOTAL, "air_s": 0.0}}, {"stop": 2})
    assert stopped == (
        "Invented room, data as of no time: nothing is logged. The bookings hold no air time up to there. 2 data checks"
        " of the STOP kind failed: do not use the figures before reading which; 0 data checks of the note kind failed."
    )
    unknown = {**TOTAL, "continuity": None, "demands": 0}
    assert "continuity of logged programme not known." in summary({**FIGURES, "total": unknown}, {})
    assert "Protect was not needed." in summary({**FIGURES, "total": unknown}, {})


def test_the_log_is_a_line_an_event_and_turned_over_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_log, "MOST_BYTES", 200)
    log = RunLog(tmp_path / "n.log")
    for number in range(20):
        log.note(f"event {number}\nof two lines")
    now, before = (tmp_path / "n.log").read_text(), (tmp_path / "n.log.1").read_text()
    assert max(len(now), len(before)) <= 200
    assert sorted(path.name for path in tmp_path.iterdir()) == ["n.log", "n.log.1"]
    lines = (before + now).splitlines()
    assert lines[-1].endswith(f"[{os.getpid()}] event 19 of two lines")
    for line in lines:
        found = LINE.fullmatch(line)
        assert found is not None
        assert datetime.fromisoformat(found[1]).tzinfo is not None


def test_a_log_that_cannot_be_written_refuses_before_anything_is_done(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"log file .* cannot be written"):
        RunLog(tmp_path / "no folder" / "n.log")
    site = write_room(tmp_path / "site")
    assert isinstance(airhours("run", site, "--log", tmp_path).exception, OutputError)
    assert not (site / "reports").exists()


def test_a_run_and_a_refusal_in_the_log(tmp_path: Path) -> None:
    site, log = write_room(tmp_path / "site"), tmp_path / "n.log"
    ran = airhours("run", site, "--quiet", "--log", log)
    assert ran.exit_code == 0
    assert ran.stdout == f"{site / 'reports' / 'index.html'}\n"
    assert ran.stderr == ""
    told = [found[3] for line in log.read_text().splitlines() if (found := LINE.fullmatch(line))]
    assert told[0].startswith("begins: airhours ")
    assert told[-1].startswith("ends, status 0: Invented room, data as of ")
    shutil.rmtree(site / "events")
    assert airhours("run", site, "--log", log).exit_code
    assert log.read_text().splitlines()[-1].partition("] ")[2].startswith("ends, status 2: No events found")


def test_waiting_ends_when_the_other_run_does_or_the_time_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that sleeping moves: of ten seconds' patience a run that is busy four times takes four."""
    now, told, left = [0.0], list[str](), [4]
    monkeypatch.setattr("pipeline.command.running.time.monotonic", lambda: now[0])
    monkeypatch.setattr("pipeline.command.running.time.sleep", lambda s: now.__setitem__(0, now[0] + s))

    def work() -> str:
        left[0] -= 1
        if left[0] >= 0:
            raise BusyOutputError("in use")
        return "done"

    assert _when_free(work, 10.0, told.append) == "done"
    assert now == [4.0]
    assert told == ["another run is at work; waiting for it for up to 10 s"]
    left[0] = 100
    with pytest.raises(BusyOutputError):
        _when_free(work, 10.0, told.append)
    assert now == [14.0]
    with pytest.raises(BusyOutputError):
        _when_free(work, 0.0, told.append)
    assert len(told) == 2, "who does not wait says nothing of waiting"


def test_a_database_and_an_out_folder_that_are_held_are_busy(tmp_path: Path) -> None:
    site = write_room(tmp_path / "site")
    (tmp_path / "out").mkdir()
    with held_alone(tmp_path / "out"):
        assert isinstance(airhours("run", site, "--out", tmp_path / "out").exception, BusyOutputError)
    hold = "import sys; from pathlib import Path; from pipeline.store import Store\n"
    hold += "with Store(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
    path = site / "airhours.duckdb"
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(BusyStoreError):
            Store(path)
        holder.communicate("")


@pytest.fixture
def night(tmp_path: Path) -> dict[str, str]:
    """What stands in the files, and what stands for it here."""
    program = make_command(tmp_path)
    site = write_room(tmp_path / "site")
    return {PROGRAM: str(program), SITE: str(site), LOG: str(tmp_path / "nightly.log")}


def _here(text: str, night: dict[str, str]) -> str:
    for there, here in night.items():
        assert there in text
        text = text.replace(there, here)
    return text


def _cron() -> tuple[dict[str, str], list[str]]:
    """The settings of the cron file, and the parts of its one line: five times, user, command (man 5 crontab)."""
    lines = [line for line in (NIGHTLY / "airhours.cron").read_text().splitlines() if not line.startswith("#")]
    settings = dict(line.split("=", 1) for line in lines if re.match(r"\w+=", line))
    (line,) = [line for line in lines if not re.match(r"\w+=", line)]
    return settings, line.split(maxsplit=6)


def test_the_line_of_cron_is_one() -> None:
    settings, parts = _cron()
    assert settings["SHELL"] == "/bin/sh"
    assert settings["MAILTO"].endswith(".invalid")  # RFC 2606: nobody's
    for field, most in zip(parts[:5], (59, 23, 31, 12, 7), strict=True):
        assert field == "*" or int(field) <= most
    assert parts[5] == "airhours"
    assert "%" not in parts[6], "cron takes it for the end of the line"


def test_the_command_of_cron_mails_only_what_is_wrong(night: dict[str, str]) -> None:
    """As cron runs it: an empty environment, /bin/sh; status 0, 1 and 2, and what would be in the mail."""
    site = Path(night[SITE])

    def cron() -> tuple[int, str]:
        command = ["env", "-i", "HOME=/", "PATH=/usr/bin:/bin", "/bin/sh", "-c", _here(_cron()[1][6], night)]
        ran = subprocess.run(command, capture_output=True, text=True, check=False, cwd="/")
        return ran.returncode, ran.stdout + ran.stderr

    assert cron() == (0, "")
    assert cron() == (0, "")
    bookings = (site / "bookings.csv").read_text(encoding="utf-8")
    twice = next(line for line in bookings.splitlines() if ",air," in line).split(",")
    twice[0], twice[6] = "TWICE", "VT4"  # two machines booked for air at once: a check of the stop kind
    (site / "bookings.csv").write_text(f"{bookings}{','.join(twice)}\n", encoding="utf-8")
    status, mail = cron()
    assert status == 1
    assert mail.splitlines() == [mail.strip()]
    assert "data check of the stop kind failed" in mail
    (site / "site.toml").write_text("name = 1\n", encoding="utf-8")
    status, mail = cron()
    assert status == 2
    assert mail.startswith("airhours: site.toml")
    assert mail.splitlines() == [mail.strip()]
    ends = [line for line in Path(night[LOG]).read_text().splitlines() if "] ends, status " in line]
    assert [line.partition("status ")[2][0] for line in ends] == ["0", "0", "1", "2"]


def test_two_runs_that_meet_are_done_one_after_the_other(night: dict[str, str], tmp_path: Path) -> None:
    line = _here(_cron()[1][6], night)
    command = ["env", "-i", "HOME=/", "PATH=/usr/bin:/bin", "/bin/sh", "-c", line]
    both = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    assert [process.communicate()[1] for process in both] == ["", ""]
    assert [process.returncode for process in both] == [0, 0]
    log = Path(night[LOG]).read_text()
    assert log.count("begins: ") == log.count("ends, status 0") == 2
    assert log.count("waiting for it for up to 3600 s") == 1
    assert log.count("nothing new: the database and the pages stay as they are") == 1


def test_without_waiting_the_second_of_two_runs_is_refused(tmp_path: Path) -> None:
    site = write_room(tmp_path / "site")
    program = make_command(tmp_path)
    (site / "reports").mkdir()
    with held_alone(site / "reports"):
        ran = subprocess.run([program, "run", site], capture_output=True, text=True, check=False)
    assert ran.returncode == 2
    assert ran.stderr.count("\n") == 1
    assert "in use by another run" in ran.stderr


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd judges its own files")
def test_systemd_finds_nothing_wrong_with_the_units(night: dict[str, str], tmp_path: Path) -> None:
    units = tmp_path / "units"
    shutil.copytree(NIGHTLY, units)
    service = units / "airhours.service"
    service.write_text(service.read_text().replace(PROGRAM, night[PROGRAM]))
    (units / "airhours-mail@.service").rename(units / "airhours-mail@airhours.service")
    names = ["airhours.service", "airhours.timer", "airhours-mail@airhours.service"]
    ran = subprocess.run(
        ["systemd-analyze", "verify", *(f"./{name}" for name in names)], cwd=units, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    assert "units/" not in ran.stderr


def test_the_timer_and_cron_run_the_same_line() -> None:
    service = (NIGHTLY / "airhours.service").read_text()
    (started,) = re.findall(r"^ExecStart=(.*)$", service, re.MULTILINE)
    assert f"{started} >/dev/null" == _cron()[1][6]
    assert "OnFailure=airhours-mail@%N.service" in service
