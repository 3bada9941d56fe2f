"""Everything the pages need, read from the database once and grouped for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pipeline.render import (
    clock_queries,
    history_queries,
    incident_queries,
    incident_room_queries,
    month_queries,
    queries,
)
from pipeline.render.history_links import Links, read_links
from pipeline.render.shown import Window, show_all, show_window
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
    **incident_room_queries.ROOM_TABLES,
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
    "clock_pairs": clock_queries.CLOCK_PAIRS,
    "days": queries.DAYS,
    "rulings": queries.RULINGS,
    **history_queries.HISTORY_TABLES,
    **month_queries.MONTH_TABLES,
}


@dataclass(frozen=True)
class Reading:
    """One run's material. Instants are naive UTC; ``local`` shows them in the site's zone.

    ``parts``: one row a recovery or rescue, in order of time, one each. ``shown``: incident → its parts, of those whose
    pages can be made; ``around``: table name → incident → rows, what lies in the window of each of them. ``site``:
    table name → rows. ``checks`` and ``findings`` are empty where no checks have run. ``links``: where the history of
    every machine and reel stands.
    """

    settings: Settings
    figures: Mapping[str, Any]
    local: Local
    as_of: datetime | None
    incidents: Rows
    parts: Rows
    shown: Grouped
    around: Mapping[str, Grouped]
    site: Mapping[str, Rows]
    checks: Rows
    findings: Rows
    persons: tuple[str, ...]
    links: Links

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
    show_all(store)
    parts, incidents = _parts(store), store.read(queries.INCIDENTS).to_dicts()
    shown: dict[str, Rows] = {incident["incident"]: [] for incident in incidents}
    for part in parts:
        shown[part["incident"]].append(part)
    site = {name: store.read(sql).to_dicts() for name, sql in SITE_TABLES.items()}
    return _reading(store, settings, figures, incidents=incidents, parts=parts, shown=shown, site=site)


def read_window(store: Store, settings: Settings, figures: Mapping[str, Any], window: Window) -> Reading:
    """Read what the page of one incident or stretch of time needs; the lines of no other one are read.

    Of an incident the page is the same as that of ``read_site``. A stretch stands in ``incidents`` at its place in
    time; its parts are all on its channel that touch it, whatever incident they belong to. ``site`` and ``findings``
    are empty. ``store`` may be open for reading only.
    """
    show_window(store, window)
    parts, incidents = _parts(store), store.read(queries.INCIDENTS).to_dicts()
    keys = set(store.read("select event_key from shown_parts")["event_key"].to_list())
    own = [part for part in parts if part["event_key"] in keys]
    if not window.is_incident:
        incidents = sorted([*incidents, _stretch(window, own, incidents)], key=lambda one: one["started_at_utc"])
    return _reading(store, settings, figures, incidents=incidents, parts=parts, shown={window.name: own}, site={})


def _stretch(window: Window, parts: Rows, incidents: Rows) -> Row:
    """A row like that of an incident for a stretch of time that is none."""
    machines = {part[name] for part in parts for name in ("machine", "to_machine")} - {None}
    return {
        **dict.fromkeys(incidents[0] if incidents else ()),
        "incident": window.name,
        "channel": window.channel,
        "started_at_utc": window.started_at_utc,
        "ended_at_utc": window.ended_at_utc,
        "lost_s": sum(part["lost_s"] or 0.0 for part in parts),
        "interruptions_count": sum(part["interruption_no"] is not None for part in parts),
        "parts_count": len(parts),
        "machines": ", ".join(sorted(machines)) or None,
        "month": None,
    }


def _reading(
    store: Store, settings: Settings, figures: Mapping[str, Any], *,
    incidents: Rows, parts: Rows, shown: Grouped, site: Mapping[str, Rows],
) -> Reading:  # fmt: skip
    has_checks = store.has("check_results") and store.has("check_findings")
    return Reading(
        settings=settings,
        figures=figures,
        local=Local(settings.zone),
        as_of=store.value("select as_of_at_utc from core_as_of"),
        incidents=incidents,
        parts=parts,
        shown=shown,
        around={name: _by_incident(store, sql) for name, sql in INCIDENT_TABLES.items()},
        site=site,
        checks=store.read(queries.CHECKS).to_dicts() if has_checks else [],
        findings=store.read(queries.FINDINGS).to_dicts() if has_checks and site else [],
        persons=tuple(store.read(queries.PERSONS)["name"].to_list()),
        links=read_links(store, figures),
    )


def _parts(store: Store) -> Rows:
    """One row a part: two bookings that both hold would bring it twice, and the later of them counts."""
    return list({row["event_key"]: row for row in store.read(queries.PARTS).to_dicts()}.values())


def _by_incident(store: Store, sql: str) -> Grouped:
    grouped: dict[str, Rows] = {}
    for row in store.read(sql).iter_rows(named=True):
        grouped.setdefault(row["incident"], []).append(row)
    return grouped
