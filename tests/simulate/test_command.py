"""The command as it is typed, and every command that its page shows."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.errors import QuestionError
from pipeline.simulate import Parameters
from tests.docs.commands import ROOT, make_command, run_all, shown_commands
from tests.simulate.rooms import truth_of

TINY = ["--days", "1", "--channels", "1", "--pairs", "1", "--lines-per-second", "0"]
PAGE = ROOT / "docs" / "simulate.md"


def test_it_says_where_and_how_much(tmp_path: Path) -> None:
    told = CliRunner().invoke(app, ["simulate", str(tmp_path / "site"), *TINY])
    assert told.exit_code == 0
    rows = truth_of(tmp_path / "site")["rows"]["read"]
    assert re.fullmatch(rf"\d+ event lines, {rows} rows in all, in {tmp_path}/site\n", told.stdout)
    assert "writing the log of VT01" in told.stderr


def test_json_is_one_value_and_nothing_else(tmp_path: Path) -> None:
    told = CliRunner().invoke(app, ["simulate", str(tmp_path / "site"), *TINY, "--json"])
    answer = json.loads(told.stdout)
    assert set(answer) == {"site", "event_lines", "rows", "size_bytes"}
    assert answer["site"] == str(tmp_path / "site")
    assert told.stderr == ""


def test_quiet_prints_the_folder_only(tmp_path: Path) -> None:
    told = CliRunner().invoke(app, ["simulate", str(tmp_path / "site"), *TINY, "--quiet"])
    assert (told.stdout, told.stderr) == (f"{tmp_path}/site\n", "")


def test_every_option_reaches_the_room(tmp_path: Path) -> None:
    given = {
        "seed": "4", "channels": "1", "pairs": "3", "months": "2", "days": "1", "first_day": "2030-02-03",
        "zone": "UTC", "day_starts": "06:00", "programmes": "5", "lines": "9000", "lines_per_second": "0.5",
        "faults": "3.0", "handovers": "4.0", "unprotected": "0.25", "missing": "0.125", "clock_error": "2.0",
        "mess": "0.0625",
    }  # fmt: skip
    assert set(given) == {field.name for field in fields(Parameters)}
    typed = [word for name, value in given.items() for word in (f"--{name.replace('_', '-')}", value)]
    assert CliRunner().invoke(app, ["simulate", str(tmp_path / "site"), *typed]).exit_code == 0
    assert truth_of(tmp_path / "site")["parameters"] == given


def test_what_cannot_be_leaves_nothing_behind(tmp_path: Path) -> None:
    told = CliRunner().invoke(app, ["simulate", str(tmp_path / "site"), "--channels", "9"])
    assert isinstance(told.exception, QuestionError)
    assert not (tmp_path / "site").exists()


def test_the_page_describes_every_option_with_its_default() -> None:
    rows = dict(re.findall(r"^\| `--([\w-]+)` \|([^|]*)\|", PAGE.read_text(encoding="utf-8"), re.MULTILINE))
    room = Parameters()
    assert set(rows) == {field.name.replace("_", "-") for field in fields(Parameters)}
    for name, told in rows.items():
        value = getattr(room, name.replace("-", "_"))
        assert told.strip() in (f"{value:g}" if isinstance(value, float) else str(value), ""), name
        assert told.strip() or value == 0, name


@pytest.mark.slow
def test_every_command_of_the_page_runs(tmp_path: Path) -> None:
    text = PAGE.read_text(encoding="utf-8")
    make_command(tmp_path)
    ran = run_all(text, tmp_path)
    assert ran
    assert ran[-1].is_as_told, ran[-1]
    assert len(ran) == len(shown_commands(text))
