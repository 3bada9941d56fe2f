"""Which incidents are shown: temporary tables that the selects behind the pages read, so that one is read alone.

``shown_incidents(incident, started_at_utc, ended_at_utc)``, ``shown_channels(incident, channel)``,
``shown_machines(incident, machine)``: those that left or were taken, and ``shown_parts(incident, event_key,
recovery_no)``. A temporary table can be made in a database that is open for reading only, and is gone with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from pipeline.render.sheet import WINDOW
from pipeline.store import Store


@dataclass(frozen=True)
class Window:
    """What one page shows: an incident of the room, or a stretch of time on one channel that is none.

    ``name`` is the incident's id, that of a stretch begins with "window-". Instants are naive UTC.
    """

    name: str
    channel: str
    started_at_utc: datetime
    ended_at_utc: datetime

    @property
    def is_incident(self) -> bool:
        """Whether it is an incident of the room."""
        return not self.name.startswith(WINDOW)


PARTS = {
    "all": "select * from core_incident_recoveries",
    "incident": "select * from core_incident_recoveries where incident = ?",
    # What touches it on its channel, whatever incident it belongs to.
    "stretch": """
        select * replace (?::varchar as incident)
        from core_incident_recoveries
        where channel = ? and started_at_utc < ? and ended_at_utc >= ?
    """,
}
TABLES = {
    "shown_incidents": "select incident, started_at_utc, ended_at_utc from core_incidents",
    "shown_parts": "select incident, event_key, recovery_no, channel, machine, to_machine from ({parts}) as p",
    "shown_channels": "select distinct incident, channel from shown_parts",
    "shown_machines": """
        select incident, machine from shown_parts where machine is not null
        union
        select incident, to_machine from shown_parts where to_machine not in ('standby', 'other')
    """,
}


def show_all(store: Store) -> None:
    """Show every incident of the room."""
    _make(store, "shown_incidents", TABLES["shown_incidents"])
    _make(store, "shown_parts", TABLES["shown_parts"].format(parts=PARTS["all"]))
    _make(store, "shown_channels", TABLES["shown_channels"])
    _make(store, "shown_machines", TABLES["shown_machines"])


def show_window(store: Store, window: Window) -> None:
    """Show one incident or one stretch of time."""
    name, started, ended = window.name, window.started_at_utc, window.ended_at_utc
    parts, known = PARTS["incident"], _values(name)
    channels, channel = TABLES["shown_channels"], _values()
    if not window.is_incident:
        parts, known = PARTS["stretch"], _values(name, window.channel, ended, started)
        channels, channel = "select ?::varchar as incident, ?::varchar as channel", _values(name, window.channel)
    one = "select ?::varchar as incident, ?::timestamp as started_at_utc, ?::timestamp as ended_at_utc"
    _make(store, "shown_incidents", one, _values(name, started, ended))
    _make(store, "shown_parts", TABLES["shown_parts"].format(parts=parts), known)
    _make(store, "shown_channels", channels, channel)
    _make(store, "shown_machines", TABLES["shown_machines"])


def _values(*values: object) -> list[object]:
    return list(values)


def _make(store: Store, table: str, select: str, parameters: list[object] | None = None) -> None:
    store.run(f"create or replace temp table {table} as {select}", parameters)
