"""What the tab key offers, in the words of each shell; and nothing, silently, where anything is wrong."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.docs.commands import make_command

pytestmark = pytest.mark.slow


def complete(shell: str, line: str, folder: Path) -> tuple[str, str]:
    """What the completion of ``shell`` prints for ``line``, the cursor at its end, and what it says beside that."""
    make_command(folder)
    words = line.split(" ")
    told = {
        "bash": {"COMP_WORDS": line, "COMP_CWORD": str(len(words) - 1)},
        "zsh": {"_TYPER_COMPLETE_ARGS": line},
        "fish": {"_TYPER_COMPLETE_ARGS": line, "_TYPER_COMPLETE_FISH_ACTION": "get-args"},
    }[shell]
    ran = subprocess.run(
        [folder / "bin" / "airhours"], cwd=folder, capture_output=True, text=True, check=False,
        env={"PATH": os.environ["PATH"], "_AIRHOURS_COMPLETE": f"complete_{shell}", **told},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return ran.stdout, ran.stderr


def offered(shell: str, line: str, folder: Path) -> list[str]:
    stdout, stderr = complete(shell, line, folder)
    assert stderr == ""
    if shell == "zsh":
        return re.findall(r'"([^"]*)"(?=\n|\)\)|:)', stdout)
    return [told.partition("\t")[0] for told in stdout.splitlines() if told]


@pytest.fixture
def folder(small: Path, tmp_path: Path) -> Path:
    shutil.copytree(small, tmp_path / "room")
    (tmp_path / "other" / "below").mkdir(parents=True)
    (tmp_path / "other" / "below" / "site.toml").touch()
    return tmp_path


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_is_offered_the_same(shell: str, folder: Path) -> None:
    """The small room: two channels, four machines, March 2031; a fault on every third of twelve evenings."""
    assert offered(shell, "airhours run ", folder) == ["room"]
    assert offered(shell, "airhours lines room lost_s --month ", folder) == ["2031-03"]
    assert offered(shell, "airhours lines room lost_s --channel T", folder) == ["Two"]
    assert offered(shell, "airhours figures room --machine VT", folder) == ["VT1", "VT2", "VT3", "VT4"]
    assert offered(shell, "airhours lines room interr", folder) == ["interruptions"]
    assert offered(shell, "airhours report m", folder) == ["month"]
    incidents = offered(shell, "airhours incident room 2031", folder)
    assert incidents == sorted(incidents, reverse=True)
    assert len(incidents) > 1


def test_folders_on_the_way_to_a_site(folder: Path) -> None:
    assert offered("bash", "airhours run o", folder) == ["other/"]
    assert offered("bash", "airhours run other/", folder) == ["other/below"]
    assert offered("bash", "airhours run nowhere/", folder) == []


def test_nothing_is_offered_where_there_is_no_run_and_nothing_said(folder: Path) -> None:
    for file in ("room/airhours.duckdb", "other/airhours.duckdb"):
        (folder / file).write_text("no database", encoding="utf-8")
    for line in (
        "airhours incident room 2", "airhours lines room l", "airhours figures other --month ",
        "airhours withdraw room ev", "airhours open room V",
    ):  # fmt: skip
        assert offered("bash", line, folder) == []


def test_a_run_at_work_is_not_waited_for(folder: Path) -> None:
    hold = "import sys; from pathlib import Path; from pipeline.store import Store\n"
    hold += "with Store(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
    command = [sys.executable, "-c", hold, str(folder / "room" / "airhours.duckdb")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        assert offered("bash", "airhours incident room 2031", folder) == []
        holder.communicate("")


def test_files_and_pages(folder: Path) -> None:
    assert offered("bash", "airhours withdraw room events/VT1", folder) == ["events/VT1.csv"]
    assert offered("bash", "airhours open room 2031-0", folder) == ["2031-03"]
    assert offered("bash", "airhours open room VT3", folder) == ["VT3"]


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash takes its own script")
def test_bash_takes_the_script(folder: Path) -> None:
    """The script that --show-completion prints, in a real bash: what it puts into COMPREPLY."""
    shim = make_command(folder)
    script = subprocess.run(
        [shim], env={"PATH": os.environ["PATH"], "_AIRHOURS_COMPLETE": "source_bash"}, capture_output=True, text=True,
        check=True,
    ).stdout  # fmt: skip
    asked = 'COMP_WORDS=(airhours report mo); COMP_CWORD=2; _airhours_completion airhours; echo "${COMPREPLY[*]}"'
    environment = {"PATH": f"{shim.parent}:{os.environ['PATH']}"}
    told = subprocess.run(
        ["bash", "--norc", "-c", f"{script}\n{asked}"], env=environment, cwd=folder, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert told.stdout.split() == ["month"]
