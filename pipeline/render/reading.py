"""Everything the pages need, read from the database once and grouped for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pipeline.render import incident_queries, queries
from pipeline.render.words import Local
from pipeline.settings import Settings
from pipeline.store import Store

Row = dict[str, Any]
Rows = list[Row]
Grouped = Mapping[str, Rows]
INCIDENT_TABLES = {
    "machines": incident_queries.MACHINES,
    "events": incident_queries.EVENTS,
    "takes": incident_queries.TAKES,
    "spans": incident_queries.SPANS,
    "feeds": incident_queries.FEEDS,
    "states": incident_queries.STATES,
    "not_known": incident_queries.NOT_KNOWN_SPANS,
    "motions": incident_queries.MOTIONS,
    "offsets": incident_queries.PLACED_OFFSETS,
    "maintenance": incident_queries.MAINTENANCE,
    "care": incident_queries.LAST_CARE,
    "tickets": incident_queries.INCIDENT_TICKETS,
}
SITE_TABLES = {
    "tickets": queries.TICKETS,
    "register": queries.REGISTER,
    "no_lock": queries.NO_LOCK,
    "set_aside": queries.SET_ASIDE,
    "set_aside_counts": queries.SET_ASIDE_COUNTS,
    "files": queries.FILES,
    "holes": queries.HOLES,
    "work": queries.WORK,
    "heads": queries.HEADS,
}


@dataclass(frozen=True)
class Reading:
    """One run's material. Instants are naive UTC; ``local`` shows them in the site's zone.

    ``parts``: one row a recovery or rescue, in order of time, one each. ``around``: table name → incident → rows, what
    lies in the window of each incident. ``site``: table name → rows. ``checks`` and ``findings`` are empty where no
    checks have run.
    """

    settings: Settings
    figures: Mapping[str, Any]
    local: Local
    as_of: datetime | None
    incidents: Rows
    parts: Rows
    around: Mapping[str, Grouped]
    site: Mapping[str, Rows]
    checks: Rows
    findings: Rows
    persons: tuple[str, ...]

    def of_incident(self, table: str, incident: str) -> Rows:
        """The rows of ``table`` in the window of ``incident``."""
        return self.around[table].get(incident, [])

    def around_of(self, incident: str) -> dict[str, Rows]:
        """Every table's rows in the window of ``incident``."""
        return {table: self.of_incident(table, incident) for table in self.around}

    @property
    def failed_stops(self) -> Rows:
        """Failed checks of the kind stop."""
        return [check for check in self.checks if check["severity"] == "stop" and not check["is_passed"]]


def read_site(store: Store, settings: Settings, figures: Mapping[str, Any]) -> Reading:
    """Read all tables the pages need (``core_*``, ``clean_*``, ``measure_*``, ``check_*``), each once.

    Nothing is written. Tables that hold what people are called are read without those columns; ``persons`` holds these
    words only so that they can be struck out of the text of set-aside rows.
    """
    has_checks = store.has("check_results") and store.has("check_findings")
    return Reading(
        settings=settings,
        figures=figures,
        local=Local(settings.zone),
        as_of=store.value("select as_of_at_utc from core_as_of"),
        incidents=store.read(queries.INCIDENTS).to_dicts(),
        parts=_once_each(store.read(queries.PARTS).to_dicts()),
        around={name: _by_incident(store, sql) for name, sql in INCIDENT_TABLES.items()},
        site={name: store.read(sql).to_dicts() for name, sql in SITE_TABLES.items()},
        checks=store.read(queries.CHECKS).to_dicts() if has_checks else [],
        findings=store.read(queries.FINDINGS).to_dicts() if has_checks else [],
        persons=tuple(store.read(queries.PERSONS)["name"].to_list()),
    )


def _by_incident(store: Store, sql: str) -> Grouped:
    grouped: dict[str, Rows] = {}
    for row in store.read(sql).iter_rows(named=True):
        grouped.setdefault(row["incident"], []).append(row)
    return grouped


def _once_each(rows: Rows) -> Rows:
    """One row a part: two bookings that both hold would bring it twice, and the later of them counts."""
    return list({row["event_key"]: row for row in rows}.values())
