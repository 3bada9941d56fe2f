"""Checks a site: finds the rows against each rule, has them judged, and writes both down.

A check in SQL finds its rows in the database, where every one is kept; only how many there are goes to the judge, all
checks in one row. A check on a small table hands the table's columns to the judge itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

import polars as pl

from pipeline.beside import Ask, here
from pipeline.check.judge import Expected, Verdict, judge
from pipeline.check.suites import Check, SqlCheck, TableCheck, read_suites
from pipeline.results import CheckOutcome, CheckResult
from pipeline.sql_files import read_checks
from pipeline.store import Store

FINDINGS = {"check_id": pl.String, "feed": pl.String, "file": pl.String, "line": pl.Int64, "what": pl.String}
ORDER = "order by feed nulls first, file nulls first, line nulls first, what"
RESULTS = {
    "check_id": pl.String,
    "table_name": pl.String,
    "rule": pl.String,
    "severity": pl.String,
    "why": pl.String,
    "touches": pl.String,
    "found_count": pl.Int64,
    "of_count": pl.Int64,
    "is_passed": pl.Boolean,
}


def check_site(store: Store, selects: Mapping[str, str] | None = None, ask: Ask = here) -> CheckResult:
    """Judge the built tables by every check of the suites; ``selects`` stand in for the files' by the check's name.

    ``ask`` says where the judge sits: in this process, or in one beside it.

    Reads ``clean_*``, ``core_*``, ``metric_*``, ``site_*`` and ``raw_clock_segments``. Writes ``check_findings``, one
    row for each row against a rule (feed, file and line are null where it is no row of a file), and ``check_results``,
    one row a check, its touched figures as a comma list. Runs inside the caller's transaction.

    Raises:
        CheckError: a check could not be decided.
    """
    suites = read_suites()
    store.write("check_findings", pl.DataFrame(schema=FINDINGS))
    asked = [ask_table(store, check, ask) for check in suites if isinstance(check, TableCheck)]
    outcomes = judge_counts(store, [check for check in suites if isinstance(check, SqlCheck)], selects or {}, ask)
    outcomes |= {outcome.check_id: outcome for outcome in (answer() for answer in asked)}
    results = tuple(outcomes[check.check_id] for check in suites)
    store.write("check_results", pl.DataFrame([_row(each) for each in results], schema=RESULTS, orient="row"))
    return CheckResult(any(each.severity == "stop" and not each.passed for each in results), results)


def judge_counts(
    store: Store, checks: Iterable[SqlCheck], instead: Mapping[str, str] = MappingProxyType({}), ask: Ask = here
) -> dict[str, CheckOutcome]:
    """Run the selects of ``checks``, add what they find to ``check_findings``, and have the counts judged."""
    selects = {model.name: model.sql for model in read_checks()} | dict(instead)
    counted = {check: _count(store, check, selects[f"check_{check.check_id}"]) for check in checks}
    wide = {check.check_id: _held_against(check, found, of) for check, (found, of) in counted.items()}
    expected = [
        Expected(
            check.check_id,
            "expect_column_values_to_be_between",
            {"column": check.check_id, "min_value": 0, "max_value": check.limit},
        )
        for check in counted
    ]
    verdicts = ask(judge, "counts", pl.DataFrame([wide]), expected, rows_by=list(wide)[:1])
    return {
        check.check_id: _outcome(check, found, of, passed=verdict.passed)
        for (check, (found, of)), verdict in zip(counted.items(), verdicts(), strict=True)
    }


def ask_table(store: Store, check: TableCheck, ask: Ask = here) -> Callable[[], CheckOutcome]:
    """Have the columns of one table judged; with the answer the rows against the rule go to ``check_findings``."""
    frame = store.read(f"select {', '.join(check.columns)} from {check.table} order by all")
    expected = Expected(check.check_id, check.expectation, check.arguments)
    verdicts = ask(judge, check.table, frame, [expected], rows_by=check.rows_by)

    def answered() -> CheckOutcome:
        (verdict,) = verdicts()
        if verdict.found:
            store.append("check_findings", _findings(verdict, frame.columns))
        return _outcome(check, len(verdict.found), verdict.looked_at_count, passed=verdict.passed)

    return answered


def _count(store: Store, check: SqlCheck, select: str) -> tuple[int, int]:
    store.run(
        f"insert into check_findings by name select '{check.check_id}' as check_id, * from ({select}) as found {ORDER}"
    )
    found_count = store.value("select count(*) from check_findings where check_id = ?", [check.check_id])
    return int(found_count), int(store.value(f"select count(*) from {check.of}"))


def _held_against(check: SqlCheck, found_count: int, of_count: int) -> float:
    if not check.is_ratio:
        return float(found_count)
    return found_count / of_count if of_count else 0.0


def _findings(verdict: Verdict, columns: list[str]) -> pl.DataFrame:
    rows = [(verdict.check_id, None, None, None, _named(row, columns)) for row in verdict.found]
    return pl.DataFrame(rows, schema=FINDINGS, orient="row")


def _named(row: Mapping[str, Any], columns: list[str]) -> str:
    return ", ".join(f"{name} {_cell(row[name])}" for name in columns if name in row)


def _cell(value: Any) -> str:
    return "missing" if value is None or value != value else str(value)  # noqa: PLR0124 - nan and NaT differ from themselves


def _outcome(check: Check, found_count: int, of_count: int, *, passed: bool) -> CheckOutcome:
    return CheckOutcome(
        check_id=check.check_id,
        table=check.table,
        rule=check.rule,
        severity=check.severity,
        why=check.why,
        touches=check.touches,
        found_count=found_count,
        of_count=of_count,
        passed=passed,
    )


def _row(outcome: CheckOutcome) -> tuple[Any, ...]:
    return (
        outcome.check_id,
        outcome.table,
        outcome.rule,
        outcome.severity,
        outcome.why,
        ", ".join(outcome.touches),
        outcome.found_count,
        outcome.of_count,
        outcome.passed,
    )
