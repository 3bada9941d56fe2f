"""Which incidents are shown: temporary tables that the selects behind the pages read, so that one is read alone.

``shown_incidents(incident, started_at_utc, ended_at_utc)``, ``shown_channels(incident, channel)``,
``shown_machines(incident, machine)``: those that left or were taken, and ``shown_parts(incident, event_key,
recovery_no)``; and, worked out from these once for all selects, ``shown_windows`` (with the lead before and after),
``shown_around(incident, machine)``: every machine of what went on then, and ``shown_others``: the rest of the room;
``shown_hours``: the windows by the hour; ``shown_stretches``: where lines are looked at; and ``shown_lines``: the lines
there, found in one reading of what lies near in the logs, or for one incident by reading the few stretches alone.
A temporary table can be made in a database that is open for reading only, and is gone with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from pipeline.render.sheet import WINDOW
from pipeline.store import Store

Range = tuple[datetime, datetime]


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


# At most so many other machines an incident: those with a fault around it first, then those whose logs say most.
MOST_OTHERS = 24
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
# An incident is looked at from the lead before it to the lead after it, on the machines of its transmissions.
AROUND = {
    "shown_windows": """
        select
            i.incident, i.started_at_utc, i.ended_at_utc,
            i.started_at_utc - s.lead_time as from_at_utc, i.ended_at_utc + s.lead_time as to_at_utc
        from shown_incidents as i
        cross join core_settings as s
    """,
    "shown_around": """
        select incident, machine from shown_machines
        union
        select w.incident, m.machine
        from shown_windows as w
        inner join shown_channels as c on w.incident = c.incident
        inner join core_members as m
            on c.channel = m.channel and m.started_at_utc <= w.ended_at_utc and m.ended_at_utc >= w.started_at_utc
        union
        select w.incident, f.feed
        from shown_windows as w
        inner join shown_channels as c on w.incident = c.incident
        inner join core_feed as f
            on c.channel = f.channel and f.started_at_utc <= w.ended_at_utc and f.ended_at_utc >= w.started_at_utc
        where f.feed not in ('standby', 'other')
    """,
    "shown_others": f"""
        with
        heard as (select machine, sum(lines_count) as lines_count from core_heard_spans group by machine),
        faulty as (
            select distinct w.incident, e.machine
            from shown_windows as w
            inner join core_words as e on e.at_utc >= w.from_at_utc and e.at_utc <= w.to_at_utc
            where e.event in ('alarm', 'unlock', 'picture_lost', 'sound_lost')
        )
        select w.incident, n.machine, w.started_at_utc, w.from_at_utc, w.to_at_utc
        from shown_windows as w
        cross join (select machine from core_heard_spans union select machine from clean_machines) as n
        left join heard as h on n.machine = h.machine
        left join faulty as f on w.incident = f.incident and n.machine = f.machine
        where not exists (select 1 from shown_around as m where m.incident = w.incident and m.machine = n.machine)
        qualify row_number() over (
            partition by w.incident order by f.machine is null, h.lines_count desc nulls last, n.machine
        ) <= {MOST_OTHERS}
    """,
    "shown_hours": """
        select
            incident, from_at_utc, to_at_utc,
            unnest(generate_series(date_trunc('hour', from_at_utc), to_at_utc, interval 1 hour)) as hour_at_utc
        from shown_windows
    """,
    # Where lines are looked at: the windows, and of the other machines what they said last as each incident began. One
    # that was being heard then said something within the lead before; else its last line is the end of the span before.
    "shown_stretches": """
        select distinct m.machine, w.from_at_utc, w.to_at_utc
        from shown_windows as w
        inner join shown_around as m on w.incident = m.incident
        union
        select
            o.machine,
            case when h.last_at_utc < o.started_at_utc then h.last_at_utc else o.from_at_utc end,
            least(h.last_at_utc, o.started_at_utc)
        from shown_others as o
        asof join core_heard_spans as h on o.machine = h.machine and o.started_at_utc >= h.first_at_utc
    """,
}
ALL_LINES = """
    with
    hours as (
        select
            *, unnest(generate_series(date_trunc('hour', from_at_utc), to_at_utc, interval 1 hour)) as hour_at_utc
        from shown_stretches as s
    )
    select e.*
    from core_events as e
    where {near} exists (
        select 1
        from hours as h
        where h.machine = e.machine
            and h.hour_at_utc = date_trunc('hour', e.at_utc)
            and e.at_utc >= h.from_at_utc
            and e.at_utc <= h.to_at_utc
    )
"""
# Between which stamps, as they stand in the files, lines are looked for. Said as values they let the engine pass over
# what lies elsewhere in the logs; so many, since each line that is not passed over is held against every one.
MOST_RANGES = 200
# The stamps between which the lines of a stretch stand in the file: no clock was corrected by more on these days. Found
# by the day, for a long room may have as many spans as lines, and all stretches times all spans are a square.
BOUNDED = """
    with
    corrected as (select * from core_heard_spans where most_corrected_us > 0),
    placed as (
        select machine, date_trunc('day', first_at_utc) as day_at_utc, most_corrected_us from corrected
        union all
        select
            machine,
            unnest(generate_series(date_trunc('day', first_at_utc) + interval 1 day, last_at_utc, interval 1 day)),
            most_corrected_us
        from corrected
        where last_at_utc >= date_trunc('day', first_at_utc) + interval 1 day
    ),
    by_day as (
        select machine, day_at_utc, max(most_corrected_us) as most_corrected_us from placed group by machine, day_at_utc
    ),
    touched as (
        select
            machine, from_at_utc, to_at_utc,
            unnest(generate_series(date_trunc('day', from_at_utc), to_at_utc, interval 1 day)) as day_at_utc
        from shown_stretches
    )
    select
        t.machine, t.from_at_utc, t.to_at_utc,
        t.from_at_utc - to_microseconds(coalesce(max(d.most_corrected_us), 0)) as from_stamp_utc,
        t.to_at_utc + to_microseconds(coalesce(max(d.most_corrected_us), 0)) as to_stamp_utc
    from touched as t
    left join by_day as d on t.machine = d.machine and t.day_at_utc = d.day_at_utc
    group by t.machine, t.from_at_utc, t.to_at_utc
    order by t.machine, t.from_at_utc
"""
LINES = """
    insert into shown_lines
    select * from core_events
    where machine in (select unnest(?::varchar[]))
        and at_utc >= ? and at_utc <= ? and stamped_at_utc >= ? and stamped_at_utc <= ?
"""


def show_all(store: Store) -> None:
    """Show every incident of the room."""
    _make(store, "shown_incidents", TABLES["shown_incidents"])
    _make(store, "shown_parts", TABLES["shown_parts"].format(parts=PARTS["all"]))
    _make(store, "shown_channels", TABLES["shown_channels"])
    _make(store, "shown_machines", TABLES["shown_machines"])
    _make_around(store)
    _make(store, "shown_lines", ALL_LINES.format(near=_near(store)))


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
    _make_around(store)
    _make(store, "shown_lines", "select * from core_events limit 0")
    bounds = ("from_at_utc", "to_at_utc", "from_stamp_utc", "to_stamp_utc")
    machines = store.read(BOUNDED).group_by(bounds, maintain_order=True).agg("machine")
    for *bounded, named in machines.rows():  # with the stamps said, the engine passes over what lies elsewhere
        store.run(LINES, [named, *bounded])


def _make_around(store: Store) -> None:
    for table, select in AROUND.items():
        _make(store, table, select)


def _near(store: Store) -> str:
    bounds = store.read(BOUNDED).select("from_stamp_utc", "to_stamp_utc").rows()
    ranges = " or ".join(
        f"e.stamped_at_utc between timestamp '{first}' and timestamp '{last}'" for first, last in few_ranges(bounds)
    )
    return f"({ranges}) and" if ranges else ""


def few_ranges(bounds: Iterable[Range], most: int = MOST_RANGES) -> list[Range]:
    """At most ``most`` ranges, in order, that hold all of ``bounds``: those with the least between them are joined."""
    joined: list[Range] = []
    for first, last in sorted(bounds):
        if joined and first <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(last, joined[-1][1])
        else:
            joined.append((first, last))
    widest = sorted(range(1, len(joined)), key=lambda place: joined[place][0] - joined[place - 1][1], reverse=True)
    edges = [0, *sorted(widest[: most - 1]), len(joined)]
    return [(joined[start][0], joined[end - 1][1]) for start, end in pairwise(edges)] if joined else []


def _values(*values: object) -> list[object]:
    return list(values)


def _make(store: Store, table: str, select: str, parameters: list[object] | None = None) -> None:
    store.run(f"create or replace temp table {table} as {select}", parameters)
