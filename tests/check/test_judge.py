"""Great Expectations decides, and says so: what keeps to an expectation, what does not, and what cannot be decided."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from datetime import datetime
from typing import Any

import polars as pl
import pytest

from pipeline.check.judge import Expected, judge
from pipeline.errors import CheckError

IN_SET = "expect_column_values_to_be_in_set"


def test_a_row_against_the_expectation_fails_and_is_named() -> None:
    frame = pl.DataFrame({"no": [1, 2, 3], "kind": ["planned", "whim", "return"]})
    wanted = {"column": "kind", "value_set": ["planned", "return"]}
    (verdict,) = judge("kinds", frame, [Expected("kinds", IN_SET, wanted)], rows_by=["no"])
    assert not verdict.passed
    assert verdict.looked_at_count == 3
    assert [(row["no"], row["kind"]) for row in verdict.found] == [(2, "whim")]


def test_verdicts_come_in_the_order_asked() -> None:
    frame = pl.DataFrame({"few": [0.0], "many": [7.0]})
    expected = [
        Expected(name, "expect_column_values_to_be_between", {"column": name, "min_value": 0, "max_value": limit})
        for name, limit in (("many", 6), ("few", 0))
    ]
    verdicts = judge("counts", frame, expected, rows_by=["few"])
    assert [(verdict.check_id, verdict.passed) for verdict in verdicts] == [("many", False), ("few", True)]


def test_every_row_is_named_however_many() -> None:
    frame = pl.DataFrame({"no": range(500), "kind": ["whim"] * 500})
    (verdict,) = judge(
        "kinds", frame, [Expected("k", IN_SET, {"column": "kind", "value_set": ["planned"]})], rows_by=["no"]
    )
    assert [row["no"] for row in verdict.found] == list(range(500))


def test_instants_are_compared_and_an_open_end_is_passed_over() -> None:
    early, late = datetime(2031, 3, 1, 20), datetime(2031, 3, 1, 20, 0, 0, 1)  # noqa: DTZ001 - tables hold naive UTC
    frame = pl.DataFrame({"no": [1, 2, 3], "start": [early, late, early], "end": [late, early, None]})
    pair = Expected(
        "ends",
        "expect_column_pair_values_a_to_be_greater_than_b",
        {"column_A": "end", "column_B": "start", "ignore_row_if": "either_value_is_missing"},
    )
    (verdict,) = judge("spans", frame, [pair], rows_by=["no"])
    assert [row["no"] for row in verdict.found] == [2]


def test_an_empty_table_keeps_to_every_expectation() -> None:
    frame = pl.DataFrame(schema={"no": pl.Int64, "kind": pl.String})
    (verdict,) = judge("kinds", frame, [Expected("k", IN_SET, {"column": "kind", "value_set": ["x"]})], rows_by=["no"])
    assert (verdict.passed, verdict.looked_at_count, verdict.found) == (True, 0, ())


@pytest.mark.parametrize(
    ("expectation", "arguments", "said"),
    [
        (IN_SET, {"column": "colour", "value_set": ["x"]}, 'column "colour"'),
        ("expect_column_to_please", {"column": "kind"}, "expect_column_to_please"),
        ("expect_column_values_to_be_between", {"column": "kind", "min_value": 0}, "could not be decided"),
    ],
)
def test_what_cannot_be_worked_out_is_an_error_and_not_a_failed_check(
    expectation: str, arguments: dict[str, Any], said: str
) -> None:
    frame = pl.DataFrame({"no": [1], "kind": ["x"]})
    with pytest.raises(CheckError, match=said):
        judge("kinds", frame, [Expected("odd", expectation, arguments)], rows_by=["no"])


def test_nothing_is_printed_and_no_connection_is_opened(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("a connection was tried")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    frame = pl.DataFrame({"no": [1], "kind": ["whim"]})
    judge("kinds", frame, [Expected("k", IN_SET, {"column": "kind", "value_set": ["x"]})], rows_by=["no"])
    assert os.environ["GX_ANALYTICS_ENABLED"] == "false"
    assert capfd.readouterr() == ("", "")


def test_the_library_is_imported_only_to_judge() -> None:
    code = "import sys, pipeline.check; sys.exit('great_expectations' in sys.modules or 'pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
