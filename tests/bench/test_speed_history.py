"""The history file, what got slower, and that README, docs and history say the same."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from bench.speed import page
from bench.speed.history import (
    HISTORY,
    Entry,
    append_entry,
    describe_machine,
    find_slower,
    latest_of_each_size,
    read_history,
)
from bench.speed.measuring import Spread
from bench.speed.targets import TARGETS

MACHINE: dict[str, Any] = {"cores": 2, "memory_gib": 16, "processor": "an invented one"}
STAGE = {"stage": "whole run", "within": "", "wall_s": 8.0, "cpu_s": 12.0}


def _entry(lines: int = 1_000_000, **figures: tuple[float, float, float]) -> Entry:
    spreads = {name: Spread(*values) for name, values in figures.items()}
    return Entry(
        "2031-03-01", "abc1234", lines, 12, 3, MACHINE, spreads, {"event_lines": 999}, [STAGE], {"sqlite": "no"}
    )


def test_an_entry_comes_back_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "history.jsonl"
    assert read_history(path) == []
    first, second = _entry(run_to_plain=(2.5, 2.25, 3.0)), _entry(10_000_000, help=(0.25, 0.25, 0.3))
    append_entry(first, path)
    append_entry(second, path)
    assert read_history(path) == [first, second]
    row = json.loads(path.read_text().splitlines()[0])
    assert row["figures"]["run_to_plain"] == {"median": 2.5, "low": 2.25, "high": 3.0}


def test_a_machine_has_words_and_no_name() -> None:
    import socket

    words = describe_machine()
    assert {"cores", "memory_gib", "processor", "python", "duckdb", "polars", "pandas", "sqlite"} == words.keys()
    assert words["cores"] >= 1
    assert words["memory_gib"] >= 1
    assert socket.gethostname() not in json.dumps(words)


def test_slower_is_what_lies_beyond_both_spreads() -> None:
    best, later = _entry(run_to_plain=(2.0, 1.9, 2.2)), _entry(run_to_plain=(3.0, 2.5, 3.2))
    assert find_slower(_entry(run_to_plain=(2.4, 2.1, 2.6)), [best, later]) == []  # 2.1 is no more than 2.2
    (told,) = find_slower(_entry(run_to_plain=(2.4, 2.3, 2.6)), [best, later])  # held against the best, not the last
    assert "2.40 (2.30 to 2.60), was 2.00 (1.90 to 2.20)" in told
    assert "abc1234" in told


def test_fewer_times_faster_than_pandas_is_slower_too() -> None:
    best = _entry(pandas_to_job=(5.0, 4.5, 5.5))
    assert find_slower(_entry(pandas_to_job=(4.2, 4.0, 4.6)), [best]) == []
    assert len(find_slower(_entry(pandas_to_job=(4.2, 4.0, 4.4)), [best])) == 1
    assert find_slower(_entry(pandas_to_job=(9.0, 8.0, 9.5)), [best]) == []


@pytest.mark.parametrize("other", [{"lines": 10}, {"months": 1}, {"machine": MACHINE | {"cores": 4}}])
def test_only_like_is_held_against_like(other: dict[str, Any]) -> None:
    best, slow = _entry(run_to_plain=(2.0, 1.9, 2.2)), _entry(run_to_plain=(9.0, 8.0, 9.9))
    assert len(find_slower(slow, [best])) == 1
    assert find_slower(replace(slow, **other), [best]) == []


def test_the_table_says_met_or_not_in_words() -> None:
    small, large = _entry(run_to_plain=(4.0, 3.5, 4.5)), _entry(10_000_000, run_to_plain=(2.5, 2.25, 3.0))
    (target,) = [each for each in TARGETS if each.name == "run_to_plain"]
    row = page.format_table([target], [small, large]).splitlines()[-1]
    assert row.startswith(
        f"| {target.what} | at most 3.00 at 10 M lines | 4.00 (3.50 to 4.50), at its size would be **not met**"
    )
    assert row.endswith("| 2.50 (2.25 to 3.00), met |")
    assert next(iter(page.judge_targets(large))).endswith("at most 3.00 at 10 M lines: met")
    assert "sqlite was left out: no" in list(page.judge_targets(large))


def test_what_is_judged_and_was_not_run_is_said() -> None:
    named = {target.name: target for target in TARGETS}
    table = page.format_table([named["help"], named["incident"]], [_entry(help=(0.2, 0.2, 0.2))])
    assert table.splitlines()[-1].endswith("| at most 2.00 s at 100 M lines | not run |")


def test_a_limit_is_kept_up_to_itself() -> None:
    named = {target.name: target for target in TARGETS}
    assert named["run_to_plain"].is_met(3.0)
    assert not named["run_to_plain"].is_met(3.01)
    assert named["pandas_to_job"].is_met(4.0)
    assert not named["pandas_to_job"].is_met(3.99)
    assert named["plain"].is_met(99.0) is None


def test_a_miss_is_told_with_its_reason_and_growth_against_the_lines() -> None:
    small, large = (
        _entry(run=(8.0, 8.0, 8.0), job_to_script=(1.5, 1.4, 1.6)),
        _entry(10_000_000, run=(60.0, 60.0, 60.0)),
    )
    blocks = page.blocks_of([small, large])
    assert "1.50 (1.40 to 1.60), at most 1.30." in blocks["misses"]
    assert (
        "the whole run takes 7.50 times as long: no faster than the lines: met" in blocks["growth"]
    )  # 60/8 against 10
    assert "| whole run | 8.00 | 100% | 12.00 |" in blocks["profile"]
    assert "2 cores of an invented one, 16 GiB of memory" in blocks["machine"]


def test_the_last_entry_of_a_size_counts() -> None:
    old, new, large = _entry(help=(0.3, 0.3, 0.3)), _entry(help=(0.2, 0.2, 0.2)), _entry(10_000_000)
    assert latest_of_each_size([large, old, new]) == [new, large]


def test_a_block_is_put_between_its_marks_alone() -> None:
    begin, end = (page.MARK.format("table", word) for word in ("begin", "end"))
    text = f"before\n{begin}\nold\n{end}\nafter\n"
    assert page.put_block(text, "table", "new") == f"before\n{begin}\nnew\n{end}\nafter\n"
    assert page.read_block(text, "table") == "old"
    assert page.put_block(text, "growth", "new") == text


def test_every_remark_belongs_to_a_target() -> None:
    import tomllib

    remarks = tomllib.loads(page.REMARKS.read_text(encoding="utf-8"))
    assert remarks.keys() <= {target.name for target in TARGETS if target.limit is not None}


def test_docs_hold_what_the_history_says() -> None:
    text = page.PAGE.read_text(encoding="utf-8")
    for name, block in page.blocks_of(read_history(HISTORY)).items():
        assert page.read_block(text, name) == block, name


def test_the_readme_quotes_the_same_table() -> None:
    blocks, text = page.blocks_of(read_history(HISTORY)), page.README.read_text(encoding="utf-8")
    assert page.read_block(text, "table") == blocks["table"]
    assert page.read_block(text, "machine") == blocks["machine"]
