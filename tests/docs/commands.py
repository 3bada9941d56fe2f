"""The commands that a page of the docs shows, taken off it and run one after the other, as a reader would type them.

A command is a line of a block fenced as ``sh``, or an indented line that begins with ``airhours ``. A line that ends
with ``# exit 2`` must end so; every other with 0. A block behind ``<!-- not run: why -->`` is passed over.

python -m tests.docs.commands DOC FOLDER runs those of DOC in FOLDER, which holds what they name, such as sample_logs.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline import outputs
from pipeline.places import DATABASE
from pipeline.store import Store

ROOT = Path(__file__).resolve().parent.parent.parent
FENCE = re.compile(r"^```(\w*)\s*$")
PASSED_OVER = re.compile(r"^<!-- not run: \S.* -->$")
INDENTED = re.compile(r"^ {4,}(airhours .*)$")
EXIT = re.compile(r"#\s*exit (\d)\s*$")
SHIM = """#!{python}
import sys
sys.path.insert(0, {root!r})
from pipeline.cli import main
sys.argv[0] = "airhours"
main()
"""
LONGEST_S = 600


@dataclass(frozen=True)
class Shown:
    """A command as a page shows it: the line it stands on, its text, the exit status it must have."""

    line: int
    text: str
    status: int = 0


@dataclass(frozen=True)
class Ran:
    """A command and how it ended."""

    shown: Shown
    status: int
    stdout: str
    stderr: str

    @property
    def is_as_told(self) -> bool:
        return self.status == self.shown.status and "Traceback" not in self.stderr

    def __str__(self) -> str:
        return f"line {self.shown.line}: {self.shown.text}\nstatus {self.status}\n{self.stdout}{self.stderr}"


def shown_commands(text: str) -> list[Shown]:
    """The commands of a page, in order; a line that ends with a backslash goes on in the next."""
    return [Shown(number, told, _status(told)) for number, told in _joined(_lines(text))]


def lay_out(folder: Path, site: Path) -> Path:
    """A folder as the docs have it: ``site``, a finished room, copied as sample_logs, and a command airhours."""
    shutil.copytree(site, folder / "sample_logs")
    with Store(folder / "sample_logs" / DATABASE) as store:  # while the program is worked on its seal may change
        store.run("update run_seal set seal = ?", [outputs.program_seal()])
    make_command(folder)
    return folder


def make_command(folder: Path) -> Path:
    """A program ``folder``/bin/airhours that is this checkout's command."""
    shim = folder / "bin" / "airhours"
    shim.parent.mkdir(exist_ok=True)
    shim.write_text(SHIM.format(python=sys.executable, root=str(ROOT)), encoding="utf-8")
    shim.chmod(0o755)
    return shim


def run_shown(shown: Shown, folder: Path, **further: str) -> Ran:
    """Run one command in ``folder`` by sh, with an environment that has no display, no home and no colour."""
    bins = os.pathsep.join(
        (str(folder / "bin"), str(Path(sys.executable).parent), "/usr/local/bin", "/usr/bin", "/bin")
    )
    environment = {"PATH": bins, "HOME": str(folder), "LANG": "C.UTF-8", **further}
    ran = subprocess.run(
        ["sh", "-c", shown.text], cwd=folder, env=environment, capture_output=True, text=True, check=False,
        timeout=LONGEST_S,
    )  # fmt: skip
    return Ran(shown, ran.returncode, ran.stdout, ran.stderr)


def run_all(text: str, folder: Path) -> list[Ran]:
    """Run every command of a page, up to the first that does not end as the page says."""
    ran: list[Ran] = []
    for shown in shown_commands(text):
        ran.append(run_shown(shown, folder))
        if not ran[-1].is_as_told:
            break
    return ran


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Number and text of each line that is a command."""
    block: str | None = None
    is_passed_over, before = False, ""
    for number, line in enumerate(text.splitlines(), start=1):
        if fence := FENCE.match(line):
            is_passed_over = block is None and bool(PASSED_OVER.match(before))
            block = fence[1] if block is None else None
        elif block == "sh" and line.strip() and not line.startswith("#") and not is_passed_over:
            yield number, line.strip()
        elif block is None and (indented := INDENTED.match(line)):
            yield number, indented[1].strip()
        before = line if line.strip() else before


def _joined(lines: Iterator[tuple[int, str]]) -> Iterator[tuple[int, str]]:
    first, told = 0, ""
    for number, line in lines:
        first, told = (first, told) if told else (number, "")
        told += line.removesuffix("\\")
        if not line.endswith("\\"):
            yield first, told
            told = ""


def _status(told: str) -> int:
    found = EXIT.search(told)
    return int(found[1]) if found else 0


if __name__ == "__main__":
    place = Path(sys.argv[2]).resolve()
    make_command(place)
    for each in run_all(Path(sys.argv[1]).read_text(encoding="utf-8"), place):
        print(each)
