"""Sites loaded, modelled and measured as a run does it, without their pages."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline import outputs
from pipeline.evidence import Evidence, open_evidence
from pipeline.ingest import load_site
from pipeline.measure import measure_site
from pipeline.model import build_models
from pipeline.places import DATABASE
from pipeline.render.comparisons import compare_months, compare_transports
from pipeline.settings import read_settings
from pipeline.store import Store

SAMPLE = Path(__file__).resolve().parents[2] / "sample_logs"


@dataclass(frozen=True)
class Room:
    """A measured site: its folder, its open database, figures as figures.json holds them, and the lines behind them."""

    site: Path
    store: Store
    figures: dict[str, Any]
    evidence: Evidence


def copy_site(source: Path, target: Path) -> Path:
    leave = shutil.ignore_patterns("reports", "*.duckdb*", "room", "foreign", "second_room", "*.py", "__pycache__")
    return Path(shutil.copytree(source, target, ignore=leave))


def measure_room(site: Path) -> Room:
    settings = read_settings(site)
    with Store(site / DATABASE) as store, store.transaction():
        load_site(site, settings, store)
        build_models(store)
        figures = measure_site(store, settings)
        # The pages add what they compare; the run then notes what the database was made by.
        figures["comparisons"] = {
            "months": compare_months(figures["months"]),
            "transports": compare_transports(figures["machines"]),
        }
        text = json.dumps(figures, allow_nan=False)
        store.run("create or replace table run_seal (seal varchar, is_stopped boolean, figures varchar)")
        store.run("insert into run_seal values (?, false, ?)", [outputs.program_seal(), text])
    return reopened(site, json.loads(text))


def reopened(site: Path, figures: dict[str, Any], *, shows_persons: bool = False) -> Room:
    store = Store(site / DATABASE, read_only=True)
    return Room(site, store, figures, open_evidence(store, figures, shows_persons=shows_persons))
