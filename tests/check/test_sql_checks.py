"""Every check in SQL finds the planted rows and no others, and finds nothing where nothing is planted."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.sql_files import Model, read_checks
from pipeline.store import Store
from tests.check.cases import BOOKINGS, NAMES, SET_ASIDE, Case
from tests.check.cases_logs import EVENTS, MODELS, STAMPS, TAKES
from tests.check.planted import plant

CASES: dict[str, Case] = {**NAMES, **BOOKINGS, **SET_ASIDE, **TAKES, **EVENTS, **STAMPS, **MODELS}
CHECKS = {model.name.removeprefix("check_"): model for model in read_checks()}


def findings(check: Model, tables: dict[str, str]) -> list[str]:
    with Store(Path(":memory:")) as store:
        plant(store, tables)
        frame = store.read(check.sql)
    assert frame.columns == ["feed", "file", "line", "what"]
    return sorted(f"{file} {line} {what}" for _, file, line, what in frame.iter_rows())


def test_every_check_has_a_case() -> None:
    assert sorted(CASES) == sorted(CHECKS)


@pytest.mark.parametrize("check_id", sorted(CASES))
def test_finds_nothing_in_a_sound_room(check_id: str) -> None:
    assert findings(CHECKS[check_id], CASES[check_id].sound) == []


@pytest.mark.parametrize("check_id", sorted(CASES))
def test_finds_the_planted_rows_and_no_others(check_id: str) -> None:
    case = CASES[check_id]
    found = findings(CHECKS[check_id], {**case.sound, **case.broken})
    assert len(found) == len(case.found), found
    for line, start in zip(found, sorted(case.found), strict=True):
        assert line.startswith(start)


@pytest.mark.parametrize("check_id", sorted(CHECKS))
def test_file_is_written_as_the_models_are(check_id: str) -> None:
    check = CHECKS[check_id]
    tables = set(re.findall(r"\b(?:raw|clean|core|metric|site|source|measure)_\w+", check.sql))
    assert check.sentence.endswith(".")
    assert check.grain
    assert set(check.key) <= {"feed", "file", "line", "what"}
    assert tables == set(check.reads)
    assert check.sql.splitlines()[-1] == "select * from findings"


def test_register_checks_are_silent_without_a_register() -> None:
    tables = {"clean_machines": "machine", "clean_bookings": "machine\nVT1", "core_heard_spans": "machine\nVT2"}
    assert findings(CHECKS["unregistered_machines"], tables) == []
    reels = {"clean_bookings": "file line booking reel\nb.csv 2 B1 R1", "clean_reels": "reel"}
    assert findings(CHECKS["unlabelled_reels"], reels) == []
