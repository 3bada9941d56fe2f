"""How often the care was given: shares of uses with exact limits, of each machine and of the room."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.statistics import proportion_limits

KINDS = ("clean", "lineup")


def find_adherence(machines: pl.DataFrame) -> dict[str, Any]:
    """Shares cleaned and lined up before the use, with exact (Clopper–Pearson) 95 % limits.

    ``machines``: one row a machine with uses_count, events_count, duty_h, clean_known_count, clean_count,
    lineup_known_count, lineup_count, heard_before_s and head_h (medians over its uses). Gives ``room`` (each kind) and
    ``machines`` in the order given. The share of a machine that never logged the word is None: it is not recorded,
    which is not "not done". Uses are taken as independent; the room's limits know nothing of the machines' spread.
    """
    rows = [_machine(row) for row in machines.iter_rows(named=True)]
    room = {kind: _share(*(int(machines[f"{kind}{part}_count"].sum()) for part in ("", "_known"))) for kind in KINDS}
    return {"room": room, "machines": rows}


def _machine(row: dict[str, Any]) -> dict[str, Any]:
    plain = ("machine", "uses_count", "events_count", "duty_h", "heard_before_s", "head_h")
    shares = {kind: _share(row[f"{kind}_count"], row[f"{kind}_known_count"]) for kind in KINDS}
    return {name: row[name] for name in plain} | shares


def _share(done: int, known: int) -> dict[str, Any]:
    low, high = proportion_limits(done, known)
    value = done / known if known else None
    return {"count": done, "known_count": known, "value": value, "low": low, "high": high}
