"""Reads and runs the hand-worked cases of this folder.

A case is a folder ``tests/sql/<model>/<case in words>/`` with ``<input table>.csv`` files, ``expect.csv`` with the rows
the model must give, and ``working.md`` that works them in words. Under ``tests/sql/transmissions`` a case holds whole
feeds (``raw_*``) and an ``expect_<model>.csv`` for each model it is about. Inputs may leave out columns (null) and
whole raw tables (empty); a stamp without a date is on 2031-03-09; settings are the defaults at 25 frames a second, in
UTC. Expected files name the columns they speak of, and every row of the model must be there; row order does not matter.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Set as AbstractSet
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.ingest.feeds import FEEDS
from pipeline.settings import THRESHOLDS
from pipeline.sql_files import Model, read_models
from pipeline.store import Store

FOLDER = Path(__file__).resolve().parent
DAY = "2031-03-09"
MODELS = read_models()
TIME_ONLY = re.compile(r"\d\d:\d\d(:\d\d(\.\d+)?)?")
BASE_TABLES = {
    **{feed.table: ", ".join(f'"{name}" {kind}' for name, kind in feed.table_columns) for feed in FEEDS},
    "source_files": "file varchar, feed varchar, format varchar, sha256 varchar, size_bytes bigint, read_count bigint,"
    " missing_columns varchar, reading varchar",
    "raw_set_aside": "feed varchar, file varchar, line bigint, reason varchar, text varchar",
    "raw_event_repeats": "file varchar, line bigint, stamped_at_utc timestamp",
    "raw_take_order": "file varchar, line bigint, tie_rank integer",
    "raw_clock_segments": "machine varchar, segment_no bigint, started_at_utc timestamp, ended_at_utc timestamp,"
    " reference_at_utc timestamp, offset_s double, drift_ppm double, within_s double, pairs_count bigint,"
    " is_corrected boolean",
    "raw_clock_pairs": "machine varchar, segment_no bigint, house_at_utc timestamp, machine_at_utc timestamp",
    "site_months": "month varchar, started_at_utc timestamp, ended_at_utc timestamp",
    "site_days": "day date, month varchar, started_at_utc timestamp, ended_at_utc timestamp",
    "measure_ticket_matches": "ticket varchar, recovery_no bigint, gap_s double",
}
SETTINGS: dict[str, Any] = {
    "name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25.0, "sync_tolerance_s": 0.04,
    **THRESHOLDS,
}  # fmt: skip


def case_folders() -> list[Path]:
    """Every case, as its folder."""
    return sorted(path.parent for path in FOLDER.glob("*/*/working.md"))


def expectations(case: Path) -> dict[str, Path]:
    """The models a case speaks of, with the file of expected rows of each."""
    named = {path.stem.removeprefix("expect_"): path for path in sorted(case.glob("expect_*.csv"))}
    single = case / "expect.csv"
    return named | ({case.parent.name: single} if single.exists() else {})


def run_case(store: Store, case: Path) -> None:
    """Fill the input tables of a case and build the models that its expectations need."""
    inputs = {path.stem: path for path in case.glob("*.csv") if not path.stem.startswith("expect")}
    _write_base_tables(store)
    for table in set(inputs) & set(BASE_TABLES):
        _insert(store, table, inputs[table])
    if "site_months" not in inputs:
        store.run("insert into site_months values ('2031-03', '2031-03-01', '2031-04-01')")
    write_settings(store, inputs.get("site_settings"))
    models = _needed(set(expectations(case)))
    unread = set(inputs) - set(BASE_TABLES) - {"site_settings"} - {model.name for model in models}
    assert not unread, f"{case} gives tables that none of its models reads: {sorted(unread)}"
    for model in _needed(set(expectations(case)), set(inputs)):
        if model.name in inputs:
            store.build(model.name, _empty(model.name))
            _insert(store, model.name, inputs[model.name])
        else:
            store.build(model.name, model.sql, is_view=model.is_view)


def _write_base_tables(store: Store) -> None:
    store.run(";".join(f"create or replace table {table} ({columns})" for table, columns in BASE_TABLES.items()))


def _needed(wanted: set[str], given: AbstractSet[str] = frozenset()) -> list[Model]:
    """The wanted models and all that they read, in the order of building; of what is given nothing hangs on others."""
    picked: list[Model] = []
    for model in reversed(MODELS):
        if model.name in wanted:
            wanted = wanted | (set() if model.name in given else set(model.reads))
            picked.insert(0, model)
    return picked


def _empty(model: str) -> str:
    """A select of no row with the columns of a model, as it has them where it is built from empty tables."""
    columns = ", ".join(f"cast(null as {kind}) as {_quoted(name)}" for name, kind in _columns()[model].items())
    return f"select {columns} limit 0"


@cache
def _columns() -> dict[str, dict[str, str]]:
    with Store(Path(":memory:")) as store:
        _write_base_tables(store)
        write_settings(store, None)
        for model in MODELS:
            store.build(model.name, model.sql, is_view=model.is_view)
        return store.tables()


def write_settings(store: Store, path: Path | None) -> None:
    """The settings of a case: those of ``path``, else the defaults."""
    given = _rows(path)[0] if path else {}
    values = {**SETTINGS, **{key: _like(SETTINGS[key], value) for key, value in given.items()}}
    columns = ", ".join(f"{name} {'varchar' if isinstance(v, str) else 'double'}" for name, v in values.items())
    store.run(f"create or replace table site_settings ({columns})")
    store.run(f"insert into site_settings values ({', '.join('?' * len(values))})", list(values.values()))


def _like(default: Any, text: str | None) -> Any:
    return text if isinstance(default, str) else float(text or 0)


def _rows(path: Path) -> list[dict[str, str | None]]:
    with path.open(encoding="utf-8", newline="") as file:
        return [
            {name: _cell(value) for name, value in row.items()} for row in csv.DictReader(file, skipinitialspace=True)
        ]


def _cell(value: str | None) -> str | None:
    text = (value or "").strip()
    if TIME_ONLY.fullmatch(text):
        return f"{DAY} {text}"
    return text or None


def _insert(store: Store, table: str, path: Path) -> None:
    for number, row in enumerate(_rows(path), start=1):
        full: dict[str, Any] = dict(row)
        if table.startswith("raw_") and table != "raw_take_order" and "line" not in full and "file" not in full:
            full |= {"file": table, "line": number} if not table.startswith("raw_clock") else {}
        names = ", ".join(f'"{name}"' for name in full)
        store.run(f"insert into {table} ({names}) values ({', '.join('?' * len(full))})", list(full.values()))


def given_rows(store: Store, model: str, path: Path) -> list[tuple[Any, ...]]:
    """What the model gave, in the columns that the expected file names, as text and sorted."""
    columns = _as_texts(store, model, _header(path))
    return sorted(store.read(f"select {columns} from {model}").rows(), key=str)


def expected_rows(store: Store, model: str, path: Path) -> list[tuple[Any, ...]]:
    """The expected rows, cast to the model's types and back to text, so that 3 and 3.000000 are the same."""
    names = _header(path)
    store.run(
        f"create or replace temp table expected as select {', '.join(_quoted(n) for n in names)} from {model} limit 0"
    )
    if rows := _rows(path):
        values = ", ".join([f"({', '.join('?' * len(names))})"] * len(rows))
        store.run(f"insert into expected values {values}", [row[name] for row in rows for name in names])
    columns = _as_texts(store, "expected", names)
    return sorted(store.read(f"select {columns} from expected").rows(), key=str)


def _as_texts(store: Store, table: str, names: list[str]) -> str:
    kinds = dict(store.read(f"select column_name, column_type from (describe {table})").rows())
    rounded = {name: f"round({_quoted(name)}, 6)" if kinds[name] == "DOUBLE" else _quoted(name) for name in names}
    return ", ".join(f"cast({value} as varchar) as {_quoted(name)}" for name, value in rounded.items())


def _quoted(name: str) -> str:
    return f'"{name}"'


def _header(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines()[0].replace(" ", "").split(",")
