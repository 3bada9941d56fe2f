"""Parts with a life: how long heads and other parts last in this room, and what those in use may still do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.measure.transports.parts.kinds import EARLY_DAYS, EARLY_H, LEAST_FAILURES, judge_parts
from pipeline.measure.transports.parts.reading import FAILED, PartLives, read_part_lives
from pipeline.measure.transports.parts.remaining import AHEAD_H
from pipeline.measure.transports.parts.tickets import LATE_H
from pipeline.settings import Settings
from pipeline.store import Store

MOST_TICKETS = 60


def measure_parts(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:  # noqa: ARG001
    """The part ``transports.parts`` of figures.json; writes ``measure_part_lives`` (grain: one life).

    Reads ``core_part_lives``, ``core_words``, ``clean_tickets`` and ``measure_causes``. Lives are head hours on the
    machine, calendar days beside; chances and shares 0–1; what is not known is None. ``kinds`` is of
    ``judge_parts``, ``failures`` holds the ``MOST_TICKETS`` latest failures with the ticket that says so.
    """
    read = read_part_lives(store, settings)
    store.write("measure_part_lives", read.lives)
    return {
        **judge_parts(read.lives, settings.costs),
        "ticket_window_h": settings.ticket_window_h,
        "late_h": LATE_H,
        "early_h": EARLY_H,
        "early_days": EARLY_DAYS,
        "ahead_h": list(AHEAD_H),
        "least_failures_count": LEAST_FAILURES,
        "nameless_count": read.nameless_count,
        "has_costs": settings.costs is not None,
        **_ends(read),
    }


def _ends(read: PartLives) -> dict[str, Any]:
    """The failures one by one, those of the latest fittings first kept, and how many there are."""
    failed = read.lives.filter(pl.col("how") == FAILED).sort("ended_at_utc", "machine", "kind")
    columns = ["machine", "kind", "detail", "life_h", "in_place_days", "ended_at_utc", "ticket", "words"]
    latest = failed.select(columns).tail(MOST_TICKETS)
    rows = [{**row, "ended_at_utc": f"{row['ended_at_utc'].isoformat()}Z"} for row in latest.iter_rows(named=True)]
    return {"lives_count": read.lives.height, "failures_count": failed.height, "failures": rows}
