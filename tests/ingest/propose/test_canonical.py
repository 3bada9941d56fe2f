"""Files that need no table, and files that only look so."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.ingest.feeds import EVENTS, SWITCHES
from pipeline.ingest.propose import propose_table
from pipeline.ingest.propose.canonical import is_found_by_name

HEADER = "at,machine,event,value,detail\n"
ROW = "2031-03-09T20:00:00Z,VT1,roll,,\n"


def _needs_table(path: Path, content: str, encoding: str = "utf-8") -> bool:
    path.write_bytes(content.encode(encoding))
    return "[[feeds]]\n" in propose_table(path).text


def test_our_own_columns_need_no_table(tmp_path: Path) -> None:
    assert not _needs_table(tmp_path / "a.csv", HEADER + ROW)
    assert not _needs_table(tmp_path / "b.csv", "\ufeff" + HEADER + ROW.replace("VT1", "Väst 1"))
    assert not _needs_table(
        tmp_path / "c.jsonl", '{"at": "2031-03-09T20:00:00Z", "machine": "VT1", "event": "roll", "unit": 3}\n'
    )


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (HEADER + ROW.replace("roll", "Rolling"), "utf-8"),  # words of their own
        (HEADER + ROW.replace("2031-03-09T20:00:00Z", "09.03.2031 20:00"), "utf-8"),  # times of their own
        ((HEADER + ROW).replace(",", ";"), "utf-8"),
        (HEADER + ROW.replace("VT1", "Väst 1"), "utf-16"),
        (HEADER.upper() + ROW, "utf-8"),  # names are compared to the letter
        (HEADER + ROW.replace("roll,,", "roll,-,"), "utf-8"),  # a cell that says nothing
        ("Report\n\n" + HEADER + ROW * 3, "utf-8"),
    ],
)
def test_anything_of_their_own_needs_one(tmp_path: Path, content: str, encoding: str) -> None:
    assert _needs_table(tmp_path / "a.csv", content, encoding)


def test_names_by_which_a_file_is_found() -> None:
    assert is_found_by_name("switches.csv", SWITCHES)
    assert is_found_by_name("events/a.csv", EVENTS)
    assert not is_found_by_name("old/events/a.csv", EVENTS)
    assert not is_found_by_name("eventsx.csv", EVENTS)
