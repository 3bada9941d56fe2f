"""Puts a generated room into an empty database as ingest would, to hold the models against a second reader."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.ingest.feeds import FEEDS
from pipeline.ingest.repeats import write_repeats
from pipeline.ingest.take_order import write_take_order
from pipeline.model import forget_marks
from pipeline.settings import THRESHOLDS
from pipeline.sql_files import read_models
from pipeline.store import Store
from tests.second_reader.sites import Room

RENAMED = {
    "events": {"at": "stamped_at_utc"},
    "switches": {"at": "at_utc"},
    "bookings": {"starts": "started_at_utc", "ends": "ended_at_utc"},
    "machines": {},
    "rulings": {"at": "at_utc", "until": "until_utc"},
}
TYPES = {
    "VARCHAR": pl.String,
    "BIGINT": pl.Int64,
    "DOUBLE": pl.Float64,
    "TIMESTAMP": pl.Datetime("us"),
    "BOOLEAN": pl.Boolean,
    "TINYINT": pl.Int64,
}
OTHER_TABLES: dict[str, dict[str, Any]] = {
    "source_files": {
        "file": pl.String, "feed": pl.String, "format": pl.String, "sha256": pl.String, "size_bytes": pl.Int64,
        "read_count": pl.Int64, "missing_columns": pl.String, "reading": pl.String,
    },
    "raw_event_repeats": {"file": pl.String, "line": pl.Int64, "stamped_at_utc": pl.Datetime("us")},
    "raw_set_aside": {"feed": pl.String, "file": pl.String, "line": pl.Int64, "reason": pl.String, "text": pl.String},
    "raw_clock_segments": {
        "machine": pl.String, "segment_no": pl.Int64, "started_at_utc": pl.Datetime("us"),
        "ended_at_utc": pl.Datetime("us"), "reference_at_utc": pl.Datetime("us"), "offset_s": pl.Float64,
        "drift_ppm": pl.Float64, "within_s": pl.Float64, "pairs_count": pl.Int64, "is_corrected": pl.Boolean,
    },
    "site_months": {"month": pl.String, "started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us")},
}  # fmt: skip


def fill_store(store: Store, room: Room) -> None:
    """Write the room's rows to the raw tables, in the place of any others.

    No clock is corrected, and the whole of 2031 is the one month.
    """
    forget_marks(store)
    for feed in FEEDS:
        rows = getattr(room, feed.name, ())
        schema = {name: TYPES[kind] for name, kind in feed.table_columns}
        store.write(feed.table, _frame(rows, RENAMED.get(feed.name, {}), schema, feed.name))
    for table, schema in OTHER_TABLES.items():
        store.write(table, pl.DataFrame(schema=schema))
    base = datetime(2030, 12, 31)  # noqa: DTZ001 - tables hold naive UTC
    month = {"month": ["2031-01"], "started_at_utc": [base], "ended_at_utc": [base + timedelta(days=367)]}
    store.write("site_months", pl.DataFrame(month, schema=OTHER_TABLES["site_months"]))
    store.write("site_settings", pl.DataFrame([_settings(room.settings)]))
    write_take_order(store)
    write_repeats(store)


def build_for(store: Store, wanted: Sequence[str]) -> None:
    """Build the tables ``wanted``, and of all others those alone that they hang on."""
    needed = set(wanted)
    models = read_models()
    for model in reversed(models):  # each stands after those it reads
        needed |= set(model.reads) if model.name in needed else set()
    for model in models:
        if model.name in needed:
            store.build(model.name, model.sql, is_view=model.is_view)


def _frame(
    rows: Sequence[Mapping[str, Any]], renamed: Mapping[str, str], schema: Mapping[str, Any], feed: str
) -> pl.DataFrame:
    full = [
        {"file": feed, "line": number, **{renamed.get(key, key): value for key, value in row.items()}}
        for number, row in enumerate(rows, start=1)
    ]
    columns = {
        name: [row.get(name) or None if kind == pl.String else row.get(name) for row in full]
        for name, kind in schema.items()
    }
    return pl.DataFrame(columns, schema=dict(schema))


def _settings(given: Mapping[str, Any]) -> dict[str, Any]:
    tolerance = given.get("sync_tolerance_s")
    base = {"name": "room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25.0, **THRESHOLDS}
    base |= {key: value for key, value in given.items() if value is not None}
    base["sync_tolerance_s"] = 1 / base["frame_rate"] if tolerance is None else tolerance
    return {key: float(value) if isinstance(value, int) else value for key, value in base.items()}


def open_memory() -> Store:
    """An empty database in memory."""
    return Store(Path(":memory:"))
