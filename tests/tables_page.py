"""Writes docs/tables.md: every table and column of a database, from sql/ and sql/columns.toml; a test holds it to them.

python tests/tables_page.py SITE, where SITE holds the database of a run
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from pipeline.answers import open_last_run
from pipeline.sql_files import Model, read_models

WORDS = ROOT / "sql" / "columns.toml"
PAGE = ROOT / "docs" / "tables.md"
Tables = Mapping[str, Mapping[str, str]]
HEAD = """# The tables

Every table of the database that a run leaves in `SITE/airhours.duckdb`, with each column. Read them with
`pipeline.open_site` ([python.md](python.md)), with any DuckDB client, or from the Parquet files that `airhours export`
writes. While a run is at work the database cannot be opened.

Times are naive UTC, spans half-open (the end is not included), durations in seconds or hours as the unit says, shares
from 0 to 1. A null is "not known" or "does not apply", never zero. `core_*` and `metric_*` are what a person's own
queries may rely on; `raw_*` and `clean_*` hold the rows of the files, `measure_*` what statistics made of them,
`check_*` the data checks. Terms are those of [definitions.md](definitions.md).

This page is written by `python tests/tables_page.py SITE` from the headers of `sql/` and from `sql/columns.toml`.
"""
GROUPS = {
    "core": "What happened: the tables to ask first",
    "metric": "Sums by month, channel and machine",
    "measure": "What statistics made of them",
    "check": "The data checks",
    "clean": "Rows of the files: those that count",
    "raw": "Rows of the files: all that could be read",
    "": "The site, its files and its runs",
}
UNITS = {
    "_utc": "naive UTC", "_s": "s", "_h": "h", "_ppm": "ppm", "_ratio": "0–1", "_count": "count", "_no": "number",
    "_time": "span of time",
}  # fmt: skip


def tables_page(tables: Tables) -> str:
    """The page for the tables of a database: name → column → type.

    Raises:
        KeyError: nothing says what a table or a column is.
    """
    words = tomllib.loads(WORDS.read_text(encoding="utf-8"))
    models = {model.name: model for model in read_models()}
    parts = [HEAD]
    for group, title in GROUPS.items():
        parts.append(f"\n## {title}\n")
        own = [table for table in sorted(tables) if _group(table) == group]
        parts.extend(_table(table, tables[table], models.get(table), words) for table in own)
    return "".join(parts)


def unused_words(tables: Tables) -> set[str]:
    """What sql/columns.toml describes that no table has."""
    words = tomllib.loads(WORDS.read_text(encoding="utf-8"))
    there = {column for columns in tables.values() for column in columns}
    unused = (set(words["columns"]) | set(words["units"])) - there
    for table, said in words["tables"].items():
        unused |= {f"{table}.{column}" for column in said.get("columns", {}) if column not in tables.get(table, {})}
        unused |= {table} - set(tables)
    return unused


def _group(table: str) -> str:
    prefix = table.partition("_")[0]
    return prefix if prefix in GROUPS else ""


def _table(table: str, columns: Mapping[str, str], model: Model | None, words: dict[str, Any]) -> str:
    own = words["tables"].get(table, {})
    said = (model.sentence, model.grain, ", ".join(model.key)) if model else (own["what"], own["grain"], own["key"])
    head = f"\n### {table}\n\n{said[0]}\n\nOne row: {said[1]}. Key: {said[2]}.\n\n"
    rows = "\n".join(_rows(columns, own.get("columns", {}), words))
    return f"{head}| column | type | unit | meaning |\n| --- | --- | --- | --- |\n{rows}\n"


def _rows(columns: Mapping[str, str], own: Mapping[str, str], words: dict[str, Any]) -> Iterator[str]:
    for column, sql_type in columns.items():
        meaning = own.get(column) or words["columns"][column]
        yield f"| {column} | {sql_type.lower()} | {_unit(column, words['units'])} | {meaning} |"


def _unit(column: str, units: Mapping[str, str]) -> str:
    if column in units:
        return units[column]
    return next((unit for ending, unit in UNITS.items() if column.endswith(ending)), "")


if __name__ == "__main__":
    with open_last_run(Path(sys.argv[1])) as opened:
        PAGE.write_text(tables_page(opened.tables()), encoding="utf-8")
