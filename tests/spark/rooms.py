"""Builds a room's tables with both engines and compares every one of them, row by row."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipeline.settings import Settings
from pipeline.spark import Engine, engine, open_engine
from pipeline.spark.exchange import bring_back
from pipeline.store import Store

HAS_JAVA = bool(shutil.which("java")) or (Path(os.environ.get("JAVA_HOME", "/none")) / "bin" / "java").exists()
needs_java = pytest.mark.skipif(not HAS_JAVA, reason="Spark needs Java, and there is no java on this machine")

SETTINGS = Settings(
    name="room", timezone="UTC", day_starts="00:00", frame_rate=25, sync_tolerance_s=0.04, lead_s=600, carry_s=14400,
    silence_s=180, tail_s=15, merge_gap_s=1, start_delay_s=0, incident_gap_s=900, ticket_window_h=24, engine="spark",
)  # fmt: skip


@contextmanager
def engine_on(store: Store, patch: pytest.MonkeyPatch) -> Iterator[Engine]:
    """Spark over the raw tables of ``store``, with every table built there; what would be a view is a table too."""
    patch.setattr(
        engine, "bring_back", lambda store, model, path: bring_back(store, replace(model, is_view=False), path)
    )
    with open_engine(store, SETTINGS) as opened:
        with store.transaction():
            opened.build_models(store)
        yield opened


def differences(ours: Store, theirs: Store, tables: list[str]) -> dict[str, Any]:
    """By table, what is not the same: the kinds of its columns, or the rows on one side alone, the first of each."""
    found: dict[str, Any] = {}
    for table in tables:
        kinds = [store.tables()[table] for store in (ours, theirs)]
        if kinds[0] != kinds[1]:
            found[table] = kinds
            continue
        rows = [_rows(store, table) for store in (ours, theirs)]
        if rows[0] != rows[1]:
            pairs = [(one, other) for one, other in zip(*rows, strict=False) if one != other]
            found[table] = (len(rows[0]), len(rows[1]), pairs[:1])
    return found


def _rows(store: Store, table: str) -> list[tuple[Any, ...]]:
    """Every row as text, so that no last digit of a float and no microsecond is lost on the way."""
    cells = ", ".join(f'cast("{name}" as varchar) as "{name}"' for name in store.tables()[table])
    return store.read(f"select {cells} from {table} order by all").rows()
