"""The command as a user types it: one plain line and the right status for every mistake, never a traceback."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.finished_room import Finished, copy_room
from tests.safety.room import write_room
from tests.safety.servers import Server

Airhours = Callable[..., subprocess.CompletedProcess[str]]
RUN = "import sys; from pipeline.cli import main; sys.argv[0] = 'airhours'; main()"
ROOT = Path(__file__).resolve().parent.parent


def in_own_process(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """The command as a user types it; each costs the loading of the libraries."""
    command = [sys.executable, "-c", RUN, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False, timeout=600)


@pytest.fixture(scope="session")
def airhours(request: pytest.FixtureRequest) -> Airhours:
    """The same from its arguments to its status, forked from a process that has loaded the libraries already."""
    if sys.platform == "win32":
        return in_own_process
    server: Server = request.getfixturevalue("server")

    def forked(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        ran = server.command(*arguments, is_counted=False)
        return subprocess.CompletedProcess(arguments, ran.status, ran.stdout, ran.stderr)

    return forked


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return copy_room(tmp_path / "site")


def refuses(result: subprocess.CompletedProcess[str], *words: str) -> None:
    """One line on stderr that holds the words, nothing on stdout, status 2."""
    lines = [line for line in result.stderr.splitlines() if line.startswith("airhours: ")]
    assert result.returncode == 2, result
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
    assert len(lines) == 1, result.stderr
    for word in words:
        assert word in lines[0], lines[0]


@pytest.mark.slow
def test_a_run_prints_the_page_to_open_and_figures_come_back(tmp_path: Path) -> None:
    site = write_room(tmp_path / "site")
    result = in_own_process("run", site)
    assert result.returncode == 0, result.stderr
    assert result.stdout.splitlines()[-1] == f"open {site / 'reports' / 'index.html'}"
    assert (site / "reports" / "index.html").is_file()
    as_json = in_own_process("run", site, "--json", "--quiet")
    assert json.loads(as_json.stdout)["is_changed"] is False
    figures = json.loads(in_own_process("figures", site).stdout)
    assert figures["total"] == json.loads(as_json.stdout)["total"]


def test_no_folder_and_no_settings(airhours: Airhours, tmp_path: Path) -> None:
    refuses(airhours("run", tmp_path / "nowhere"), "nowhere", "is not a folder")
    refuses(airhours("run", tmp_path), "site.toml")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('timezone = "Europe/Stockholm"', 'timezone = "Mars/North"', ("timezone", "Mars/North", "IANA")),
        ("frame_rate = 25", "frame_rate = 0", ("frame_rate", '"0"', "above 0")),
        ("frame_rate = 25", "frame_rat = 25", ("frame_rat", "Did you mean frame_rate?")),
        ("frame_rate = 25", "frame_rate = 25\nlead_s = -1", ("lead_s", "-1")),
        ('day_starts = "06:00"', 'day_starts = "sechs"', ("day_starts", "sechs", "06:00")),
        ("frame_rate = 25", "frame_rate 25", ("TOML",)),
    ],
)
def test_settings_that_are_not_allowed(
    airhours: Airhours, site: Path, old: str, new: str, words: tuple[str, ...]
) -> None:
    path = site / "site.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    refuses(airhours("run", site), "site.toml", *words)
    assert not (site / "airhours.duckdb").exists()


@pytest.mark.parametrize("feed", ["switches.csv", "tickets.csv", "bookings.csv"])
def test_a_required_feed_that_is_missing_or_empty(airhours: Airhours, site: Path, feed: str) -> None:
    (site / feed).write_bytes(b"")
    refuses(airhours("run", site), feed, "empty")
    (site / feed).unlink()
    refuses(airhours("run", site), feed.removesuffix(".csv"))


def test_no_events_at_all(airhours: Airhours, site: Path) -> None:
    shutil.rmtree(site / "events")
    refuses(airhours("run", site), "events")
    assert not (site / "airhours.duckdb").exists()
    assert not (site / "reports").exists()


def test_a_wrong_column_is_named_with_what_was_meant(airhours: Airhours, site: Path) -> None:
    path = site / "tickets.csv"
    path.write_bytes(path.read_bytes().replace(b"machine", b"machne", 1))
    refuses(airhours("run", site), "tickets.csv", '"machine"', "machne", "Did you mean")


def test_an_out_folder_that_cannot_be_written(airhours: Airhours, site: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("not a folder", encoding="utf-8")
    refuses(airhours("run", site, "--out", blocked / "reports"), "a file", "cannot be written")


def test_a_database_that_is_something_else(airhours: Airhours, site: Path) -> None:
    (site / "airhours.duckdb").write_text("a shopping list, long enough to be looked at\n" * 400, encoding="utf-8")
    refuses(airhours("run", site), "airhours.duckdb")


def test_a_database_that_another_run_holds(airhours: Airhours, site: Path, tmp_path: Path) -> None:
    hold = (
        "import sys, time; from pathlib import Path; from pipeline.store import Store\n"
        "with Store(Path(sys.argv[1])): print('held', flush=True); time.sleep(60)"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", hold, str(site / "airhours.duckdb")], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline().strip() == "held"
        refuses(airhours("run", site), "in use by another run")
    finally:
        holder.kill()
        holder.wait()


def test_questions_before_any_run(airhours: Airhours, site: Path) -> None:
    for command in ("figures", "loaded", "setaside"):
        refuses(airhours(command, site), "does not exist", f"airhours run {site}")


@pytest.mark.slow
def test_what_is_set_aside_is_listed_and_retried_after_mending(airhours: Airhours, tmp_path: Path) -> None:
    """A row whose time is written day first is set aside; with date_order in site.toml it is kept."""
    site = write_room(tmp_path / "site")
    with (site / "tickets.csv").open("a", encoding="utf-8") as tickets:
        tickets.write("T-LATE,VT1,31/03/2031 10:00,,,<b>no picture</b>,,,,,,,\n")
    assert airhours("run", site, "--quiet").returncode == 0
    listed = airhours("setaside", site, "--feed", "tickets", "--reason", "31/03/2031").stdout.splitlines()
    assert listed[0].startswith("tickets.csv, line ")
    assert '"31/03/2031 10:00"' in listed[0]
    assert listed[1:] == ["    T-LATE,VT1,31/03/2031 10:00,,,<b>no picture</b>,,,,,,,", "1 rows set aside"]
    (row,) = json.loads(airhours("setaside", site, "--reason", "31/03/2031", "--json").stdout)
    assert (row["file"], row["feed"]) == ("tickets.csv", "tickets")
    settings = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(f'date_order = "dmy"\n{settings}', encoding="utf-8")
    result = airhours("retry", site, "--json")
    assert result.returncode == 0, result.stderr
    assert "tickets.csv" in [
        file["file"] for file in json.loads(result.stdout)["files"] if file["action"] == "read again"
    ]
    assert airhours("setaside", site, "--reason", "31/03/2031").stdout == "0 rows set aside\n"


@pytest.mark.slow
def test_a_file_is_withdrawn_and_taken_in_again(airhours: Airhours, tmp_path: Path) -> None:
    site = write_room(tmp_path / "site")
    airhours("run", site, "--quiet")
    whole = airhours("figures", site).stdout
    loaded = json.loads(airhours("loaded", site, "--json").stdout)
    file = next(row for row in loaded if row["feed"] == "events" and row["kept_count"])
    assert file["read_count"] == file["kept_count"] + file["repeat_count"] + file["set_aside_count"]
    refuses(airhours("withdraw", site, "events/none.csv"), "events/none.csv", "is not loaded")
    result = airhours("withdraw", site, file["file"])
    assert f"withdrawn, so that its rows are taken out: {file['file']} ({file['read_count']} rows)" in result.stderr
    assert f"{file['file']}: withdrawn (sha256 {file['sha256'][:12]})" in airhours("loaded", site).stdout
    assert airhours("figures", site).stdout != whole
    assert airhours("withdraw", site, file["file"], "--back").returncode == 0
    assert airhours("figures", site).stdout == whole
    told = airhours("loaded", site, "--history").stdout.splitlines()
    assert [line.split(": ", 2)[2].split(" (")[0] for line in told if f" {file['file']}: " in line] == [
        f"loaded, {file['read_count']} rows",
        f"withdrawn, {file['read_count']} rows",
        f"loaded, {file['read_count']} rows",
    ]


def test_a_file_is_looked_at_and_a_site_laid_out(airhours: Airhours, tmp_path: Path) -> None:
    refuses(airhours("map", tmp_path / "nothing.csv"), "nothing.csv")
    export = tmp_path / "faults.csv"
    export.write_text("Ticket;Machine;Opened\nT1;VT1;13/03/2031 20:00\nT2;VT1;14/03/2031 20:00\n", encoding="utf-8")
    proposed = airhours("map", export).stdout
    assert "[[feeds]]" in proposed
    assert 'kind = "tickets"' in proposed
    assert 'date_order = "dmy"' in proposed
    assert airhours("new", tmp_path / "site").returncode == 0
    assert (tmp_path / "site" / "site.toml").is_file()
    refuses(airhours("new", tmp_path / "site"), "site.toml")
    refuses(airhours("run", tmp_path / "site"), "No events found")


def test_bad_usage_is_status_two_without_a_traceback() -> None:
    for arguments, word in ((("run",), "site"), (("runn",), "runn"), (("run", "a", "--nonsense"), "--nonsense")):
        result = in_own_process(*arguments)
        refuses(result, word, "airhours --help")
        assert len(result.stderr.splitlines()) == 1


def test_no_command_at_all_shows_the_help() -> None:
    result = in_own_process()
    assert result.returncode == 0
    assert "run" in result.stdout
    assert in_own_process("--version").stdout.startswith("airhours ")


def test_help_is_quick_because_it_loads_no_library() -> None:
    code = "import sys; sys.argv = ['airhours', '--help']\nfrom pipeline.cli import main\n"
    code += "try: main()\nexcept SystemExit: pass\n"
    code += "print(sorted({'duckdb', 'polars', 'great_expectations', 'scipy', 'altair'} & set(sys.modules)))"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert result.stdout.splitlines()[-1] == "[]"


@pytest.mark.slow
def test_a_run_killed_at_any_moment_leaves_the_next_one_whole(site: Path, finished: Finished) -> None:
    wanted = (finished.reports / "data" / "figures.json").read_bytes()
    for tenths in (9, 21, 33, 57):
        command = [sys.executable, "-c", RUN, "run", str(site)]
        process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(tenths / 10)
        process.kill()
        process.wait()
    assert in_own_process("run", site).returncode == 0
    assert (site / "reports" / "data" / "figures.json").read_bytes() == wanted


@pytest.mark.slow
def test_a_stop_check_that_fails_is_status_one_and_on_the_first_page(airhours: Airhours, site: Path) -> None:
    """Two machines booked for air at once for an hour: nobody can say which was meant, and figures hang on it."""
    bookings = site / "bookings.csv"
    lines = bookings.read_text(encoding="utf-8").splitlines()
    header = lines[0].split(",")
    first = dict(zip(header, next(line for line in lines[1:] if ",air," in line).split(","), strict=True))
    other = first | {"booking": "TWICE", "machine": "VT8" if first["machine"] != "VT8" else "VT7"}
    bookings.write_text("\n".join([*lines, ",".join(other[name] for name in header)]) + "\n", encoding="utf-8")
    result = airhours("run", site)
    assert result.returncode == 1, result.stderr
    assert "data check" in result.stderr
    first_page = (site / "reports" / "index.html").read_text(encoding="utf-8")
    assert "data check of the kind stop failed" in first_page
    assert 'href="data-quality.html#check-' in first_page
    again = airhours("run", site)
    assert again.returncode == 1, "nothing new, and still not to be believed"


def test_a_fault_of_the_program_is_one_line_and_a_trace_on_demand(site: Path) -> None:
    broken = RUN.replace("main()", "import pipeline.flow as f; f.read_settings = lambda site: 1 / 0; main()")
    command = [sys.executable, "-c", broken, "run", str(site)]
    result = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    refuses(result, "a fault of the program", "ZeroDivisionError", "AIRHOURS_TRACE=1")
    traced = subprocess.run(
        command, capture_output=True, text=True, cwd=ROOT, check=False, env={**os.environ, "AIRHOURS_TRACE": "1"}
    )
    assert "Traceback" in traced.stderr
