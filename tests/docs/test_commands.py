"""Every command that the docs on the command show, typed in a folder with the invented room."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.docs.commands import ROOT, Shown, lay_out, run_all, run_shown, shown_commands
from tests.finished_room import Finished

PYTHON = re.compile(r"^```python\n(.*?)^```", re.MULTILINE | re.DOTALL)
ROWS = re.compile(r"^\| (`.*?) \| (object|list)[^|]*\| (.*) \|$", re.MULTILINE)
PAGE = """
```sh
airhours run sample_logs \\
  --quiet
# a remark
false  # exit 1
```
<!-- not run: needs root -->
```sh
reboot
```
```python
airhours no command
```
Text, and
    airhours new our_room
"""


@pytest.fixture(scope="module")
def folder(finished: Finished, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay_out(tmp_path_factory.mktemp("docs"), finished.site)


def test_commands_are_found_where_a_reader_sees_them() -> None:
    assert shown_commands(PAGE) == [
        Shown(3, "airhours run sample_logs --quiet", 0),
        Shown(6, "false  # exit 1", 1),
        Shown(16, "airhours new our_room", 0),
    ]


def test_a_command_that_does_not_do_what_the_page_says_is_noticed(tmp_path: Path) -> None:
    ran = run_all("```sh\ntrue\nfalse\ntrue\n```\n", tmp_path)
    assert [each.is_as_told for each in ran] == [True, False]
    (ran,) = run_all("```sh\ntrue # exit 2\n```\n", tmp_path)
    assert not ran.is_as_told


@pytest.mark.slow
@pytest.mark.parametrize("name", ["command.md", "nightly.md"])
def test_every_command_of_a_page_runs(name: str, finished: Finished, tmp_path: Path) -> None:
    text = (ROOT / "docs" / name).read_text(encoding="utf-8")
    ran = run_all(text, lay_out(tmp_path, finished.site))
    assert ran
    assert ran[-1].is_as_told, ran[-1]
    assert len(ran) == len(shown_commands(text))


@pytest.mark.slow
def test_every_snippet_for_python_runs(folder: Path) -> None:
    snippets = PYTHON.findall((ROOT / "docs" / "python.md").read_text(encoding="utf-8"))
    assert len(snippets) >= 4
    for snippet in snippets:
        code = f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{snippet}"
        ran = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, ran.stderr
        assert ran.stdout.strip()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("typed", "row"),
    [
        ("run sample_logs", "run"),
        ("loaded sample_logs", "loaded"),
        ("loaded sample_logs --history", "loaded --history"),
        ("loaded sample_logs --missing", "loaded --missing"),
        ("setaside sample_logs", "setaside"),
        ("figures sample_logs", "figures"),
        ("lines sample_logs lost_s", "lines FIGURE"),
        ("incident sample_logs 20310316-062602-one", "incident"),
        ("report month sample_logs", "report"),
        ("open sample_logs", "open"),
        ("export sample_logs out", "export"),
        ("map sample_logs/tickets.csv", "map"),
    ],
)
def test_json_has_the_shape_that_the_page_says(folder: Path, typed: str, row: str) -> None:
    rows = ROWS.findall((ROOT / "docs" / "command.md").read_text(encoding="utf-8"))
    value, told = next((value, told) for names, value, told in rows if f"`{row}`" in names.split(", "))
    ran = run_shown(Shown(0, f"airhours {typed} --json"), folder)
    assert ran.status == 0, ran
    answer = json.loads(ran.stdout)
    assert isinstance(answer, dict if value == "object" else list)
    found = set(answer if value == "object" else answer[0])
    named = set(re.findall(r"`(\w+)`", re.sub(r"\([^)]*\)", "", told.partition(" and more")[0])))
    assert named
    assert named <= found if "and more" in told else named == found


@pytest.mark.slow
def test_every_command_takes_json() -> None:
    from pipeline.cli import app

    for command in app.registered_commands:
        assert "as_json" in command.callback.__annotations__, command.name  # type: ignore[union-attr]
