"""The suites are whole: every select has an entry and every entry its select, a reason and the figures it touches."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.check.suites import SqlCheck, TableCheck, read_suites
from pipeline.sql_files import read_checks, read_models

# FIGURES of the contract, section 7, and the other words that the head of suites.toml allows
FIGURES = """
    air_s lost_s unknown_s covered_s unproved_s exposed_s continuity continuity_low continuity_high
    exposed_none_booked_s exposed_not_good_s exposed_out_of_step_s elsewhere_s rescued_s overrun_s
    interruptions protect_switches forced precaution unexplained planned return protect_switches_per_1000_air_h
    demands demands_met demands_healed demands_unprotected to_air_s to_take_s to_cover_s to_service_s
    rows clocks as_of ages causes
"""
ENTRY = """
[[checks]]
id = "one"
kind = "sql"
severity = "note"
table = "core_takes"
of = "core_takes"
rule = "A rule."
why = "A reason."
touches = ["air_s"]
"""
SUITES = read_suites()


def test_every_select_has_an_entry_and_every_entry_a_select() -> None:
    entries = sorted(f"check_{check.check_id}" for check in SUITES if isinstance(check, SqlCheck))
    assert entries == [model.name for model in read_checks()]


@pytest.mark.parametrize("check", SUITES, ids=lambda check: check.check_id)
def test_entry_says_what_it_must(check: SqlCheck | TableCheck) -> None:
    assert check.rule.endswith(".")
    assert check.why.endswith(".")
    assert len(check.why) > 30
    assert check.touches
    assert set(check.touches) <= set(FIGURES.split())
    tables = {model.name for model in read_models()} | {"raw_clock_segments", "raw_findings", "measure_rulings"}
    assert check.table in tables
    if isinstance(check, SqlCheck):
        assert check.limit >= 0
        assert not check.is_ratio or check.limit <= 1
        assert check.severity == "note" or check.limit == 0, "a stop with a limit above none needs a reason of its own"


@pytest.mark.parametrize(
    "check", [each for each in SUITES if isinstance(each, TableCheck)], ids=lambda each: each.check_id
)
def test_table_entry_names_its_own_columns(check: TableCheck) -> None:
    names = {column.rpartition(" as ")[2] for column in check.columns}
    wanted = [value for key, value in check.arguments.items() if key in ("column", "column_A", "column_B")]
    assert {*wanted, *check.arguments.get("column_list", ())} <= names
    assert set(check.rows_by) <= names


def test_limits_are_counts_or_shares(tmp_path: Path) -> None:
    path = tmp_path / "suites.toml"
    path.write_text(
        ENTRY + ENTRY.replace("one", "two") + "at_most = 3" + ENTRY.replace("one", "three") + "at_most_ratio = 0.5",
        encoding="utf-8",
    )
    limits = [(check.limit, check.is_ratio) for check in read_suites(path) if isinstance(check, SqlCheck)]
    assert limits == [(0.0, False), (3.0, False), (0.5, True)]


@pytest.mark.parametrize(
    ("text", "error", "message"),
    [
        (ENTRY + ENTRY, ValueError, "more than once"),
        (ENTRY.replace('"note"', '"loud"'), ValueError, '"loud"'),
        (ENTRY.replace('"sql"', '"guess"'), ValueError, '"guess"'),
        (ENTRY.replace("why", "because"), KeyError, "why"),
        (ENTRY + 'colour = "red"', TypeError, "colour"),
    ],
)
def test_an_entry_that_is_not_whole_is_refused(tmp_path: Path, text: str, error: type[Exception], message: str) -> None:
    path = tmp_path / "suites.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(error, match=message):
        read_suites(path)
