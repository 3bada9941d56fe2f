"""The data checks as data: reads suites.toml, so that rules, reasons and limits stand in one place apart from code."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.results import Severity

FILE = Path(__file__).with_name("suites.toml")


@dataclass(frozen=True)
class Check:
    """What every check says of itself: its table, its rule in words, and why it matters to which figures."""

    check_id: str
    table: str
    severity: Severity
    rule: str
    why: str
    touches: tuple[str, ...]


@dataclass(frozen=True)
class SqlCheck(Check):
    """A select that returns the rows that break the rule.

    ``of`` is what follows ``from`` in the count of the rows looked at. The limit, inclusive, is a count of rows found,
    or where ``is_ratio`` their share of the rows looked at, 0 to 1.
    """

    of: str
    limit: float
    is_ratio: bool


@dataclass(frozen=True)
class TableCheck(Check):
    """An expectation on some columns of a table, each a name or an expression with a name; ``rows_by`` names a row."""

    columns: tuple[str, ...]
    rows_by: tuple[str, ...]
    expectation: str
    arguments: Mapping[str, Any]


def read_suites(path: Path = FILE) -> tuple[SqlCheck | TableCheck, ...]:
    """The checks of ``path`` in the order of the file.

    Raises:
        KeyError: an entry lacks a key.
        ValueError: an entry has a key, a kind or a severity that is not known, or comes twice.
    """
    entries = tomllib.loads(path.read_text(encoding="utf-8"))["checks"]
    checks = tuple(_check(dict(entry)) for entry in entries)
    ids = [check.check_id for check in checks]
    if repeated := {each for each in ids if ids.count(each) > 1}:
        raise ValueError(f"{path.name} has the checks {sorted(repeated)} more than once.")
    return checks


def _check(entry: dict[str, Any]) -> SqlCheck | TableCheck:
    check_id, kind = entry.pop("id"), entry.pop("kind")
    if entry["severity"] not in ("stop", "note"):
        raise ValueError(f'check "{check_id}" has the severity "{entry["severity"]}". Expected stop or note.')
    known = {key: entry.pop(key) for key in ("table", "severity", "rule", "why")}
    touches = tuple(entry.pop("touches"))
    if kind == "table":
        columns, rows_by = tuple(entry.pop("columns")), tuple(entry.pop("rows_by"))
        return TableCheck(check_id, **known, touches=touches, columns=columns, rows_by=rows_by, **entry)
    if kind != "sql":
        raise ValueError(f'check "{check_id}" is of the kind "{kind}". Expected sql or table.')
    is_ratio = "at_most_ratio" in entry
    limit = float(entry.pop("at_most_ratio" if is_ratio else "at_most", 0))
    return SqlCheck(check_id, **known, touches=touches, limit=limit, is_ratio=is_ratio, **entry)
