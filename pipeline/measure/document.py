"""The whole of figures.json: the account of the files, FIGURES for every group, clocks and causes."""

from __future__ import annotations

import math
from typing import Any

import polars as pl

from pipeline.measure.cause_tables import causes_by_count, find_causes
from pipeline.measure.clock_effects import measure_clock_effects
from pipeline.measure.coincidences import keeping_onsets
from pipeline.measure.figures import COUNTS, SECONDS, group_figures
from pipeline.measure.groups import group_keys, read_metrics
from pipeline.measure.matching import match_tickets
from pipeline.measure.patterns import find_patterns
from pipeline.measure.remedies import measure_remedies
from pipeline.measure.rulings import measure_rulings
from pipeline.measure.service import service_times
from pipeline.measure.transports import measure_transports
from pipeline.settings import Settings
from pipeline.store import Store

FILES = """
select file as path, sha256, feed, read_count as read, kept_count as kept, repeat_count as repeats,
    set_aside_count as set_aside
from core_files order by file
"""
CLOCKS = "select * from raw_clock_segments order by machine, segment_no"


def measure_site(store: Store, settings: Settings) -> dict[str, Any]:
    """Every figure shown, as a document of plain values ready for JSON (see the contract of figures.json).

    Reads ``core_*``, ``metric_*`` and ``raw_clock_segments``; writes ``measure_ticket_matches``, ``measure_causes``,
    ``measure_rulings``, ``measure_clock_effects`` and the tables of ``find_patterns`` and ``measure_transports``.
    Instants are ISO 8601 in UTC, durations seconds, shares 0–1; what is not known is None.
    """
    with keeping_onsets(store):
        return _document(store, settings)


def _document(store: Store, settings: Settings) -> dict[str, Any]:
    match_tickets(store)
    causes = find_causes(store)
    metrics = read_metrics(store, service_times(store))
    keys = group_keys(store)
    files = store.read(FILES).to_dicts()
    document: dict[str, Any] = {
        "site": settings.name,
        "timezone": settings.timezone,
        "as_of": _instant(store.value("select as_of_at_utc from core_as_of")),
        "rows": {name: sum(file[name] for file in files) for name in ("read", "kept", "repeats", "set_aside")},
        "files": files,
        "total": group_figures(metrics, {}),
    }
    for group, members in keys.items():
        document[group] = [{**key, **group_figures(metrics, key)} for key in members]
    for month in document["months"]:
        month["causes"] = causes_by_count(causes.filter(pl.col("month") == month["month"]))
    document["standby"] = _standby(document["total"], document["machines"])
    document["causes"] = causes_by_count(causes)
    document["clocks"] = clocks(store.read(CLOCKS))
    document["clock_effects"] = measure_clock_effects(store, keys)
    document["rulings"] = measure_rulings(store)
    document["patterns"] = find_patterns(store, settings)
    document["remedies"] = measure_remedies(store, [month["month"] for month in document["months"]])
    document["transports"] = measure_transports(store, settings, document)
    return document


def _standby(total: dict[str, Any], machines: list[dict[str, Any]]) -> dict[str, float]:
    """What no machine carries: seconds and counts on standby, so that the machines' sums and the total agree."""
    names = [*(f"{name}_s" for name in SECONDS), *COUNTS, "protect_switches"]
    return {name: round(total[name] - sum(machine[name] for machine in machines), 6) for name in names}


def clocks(segments: pl.DataFrame) -> list[dict[str, Any]]:
    """One entry a machine: the word on its clock now (the segment of its last pair), and all its segments."""
    entries = []
    for (machine,), rows in segments.group_by("machine", maintain_order=True):
        paired = rows.filter(pl.col("pairs_count") > 0)
        last = (rows if paired.is_empty() else paired.sort("reference_at_utc")).row(-1, named=True)
        entries.append(
            {
                "machine": machine,
                "offset_s": _known(last["offset_s"]),
                "drift_ppm": _known(last["drift_ppm"]),
                "within_s": _known(last["within_s"]),
                "pairs": int(rows["pairs_count"].sum()),
                "is_corrected": bool(rows["is_corrected"].any()),
                "segments": [_segment(row) for row in rows.iter_rows(named=True)],
            }
        )
    return entries


def _segment(row: dict[str, Any]) -> dict[str, Any]:
    return {
        "started": _instant(row["started_at_utc"]),
        "ended": _instant(row["ended_at_utc"]),
        "reference": _instant(row["reference_at_utc"]),
        "offset_s": _known(row["offset_s"]),
        "drift_ppm": _known(row["drift_ppm"]),
        "within_s": _known(row["within_s"]),
        "pairs": row["pairs_count"],
        "is_corrected": row["is_corrected"],
    }


def _known(value: float | None) -> float | None:
    return None if value is None or math.isnan(value) else value


def _instant(value: Any) -> str | None:
    return None if value is None else f"{value.isoformat()}Z"
