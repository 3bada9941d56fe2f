"""One run an out folder: held by the system, free again however the holder ends, and no file left behind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.errors import OutputError
from pipeline.out_lock import LOCK, held_alone
from pipeline.outputs import out_folder

ROOT = Path(__file__).resolve().parent.parent
HOLD = (
    "import sys; from pathlib import Path; from pipeline.out_lock import held_alone\n"
    "with held_alone(Path(sys.argv[1])):\n"
    "    print('held', flush=True); sys.stdin.readline()\n"
)


def test_a_folder_another_run_holds_is_in_use_until_that_run_is_killed(tmp_path: Path) -> None:
    command = [sys.executable, "-c", HOLD, str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        told = r"is in use by another run\. Wait until it has ended, or .* --out\."
        with pytest.raises(OutputError, match=told), held_alone(tmp_path):
            pass
        assert (tmp_path / LOCK).exists(), "the one kept out must not take the other's file away"
        other.kill()
    with held_alone(tmp_path):
        assert (tmp_path / LOCK).exists()
    assert list(tmp_path.iterdir()) == []


def test_it_is_free_again_after_an_error(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), held_alone(tmp_path):
        raise ZeroDivisionError
    with held_alone(tmp_path):
        pass


def test_what_a_killed_run_left_half_written_is_taken_away(tmp_path: Path) -> None:
    (tmp_path / ".airhours-abc").mkdir()
    (tmp_path / ".airhours-abc" / "index.html").write_text("half", encoding="utf-8")
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "figures.csv.part").write_text("half", encoding="utf-8")
    (tmp_path / "mine.txt").write_text("a person's own", encoding="utf-8")
    with out_folder(tmp_path):
        left = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")}
    assert left == {LOCK, "data", "mine.txt"}


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="rights that bind the user are needed")
def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="cannot be written"), held_alone(tmp_path):
        pass
    tmp_path.chmod(0o700)
