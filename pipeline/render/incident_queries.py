"""The selects behind the incidents' pages: each reads the windows of all shown incidents at once, always in one order.

What is shown stands in temporary tables that `pipeline/render/shown.py` fills. What people are called is not selected,
so no page can print it.
"""

from __future__ import annotations

AROUND = """
with
windows as (select * from shown_windows),
channels as (select incident, channel from shown_channels),
machines as (select incident, machine from shown_around)
"""
MACHINES = (
    AROUND
    + """
select m.incident, m.machine, min(b.role) as role
from machines as m
inner join windows as w on m.incident = w.incident
left join clean_bookings as b
    on m.machine = b.machine
    and b.role in ('air', 'protect')
    and b.started_at_utc <= w.ended_at_utc
    and b.ended_at_utc >= w.started_at_utc
    and b.channel in (select channel from channels as c where c.incident = m.incident)
group by m.incident, m.machine
order by m.incident, role nulls last, m.machine
"""
)
EVENTS = (
    AROUND
    + """
select
    m.incident, e.machine, e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail, e.file, e.line
from shown_hours as h
inner join shown_lines as e
    on h.hour_at_utc = date_trunc('hour', e.at_utc) and e.at_utc >= h.from_at_utc and e.at_utc <= h.to_at_utc
inner join machines as m on h.incident = m.incident and e.machine = m.machine
order by
    m.incident, e.at_utc, e.machine, e.event_rank, e.event, e.detail nulls first, e.value nulls first, e.file, e.line
"""
)
TAKES = (
    AROUND
    + """
select c.incident, t.channel, t.at_utc, t.from_machine, t.to_machine, t.reason, t.action, t.at_text, t.file, t.line
from channels as c
inner join windows as w on c.incident = w.incident
inner join clean_switches as t
    on c.channel = t.channel and t.at_utc >= w.from_at_utc and t.at_utc <= w.to_at_utc
left join core_takes as k on t.file = k.file and t.line = k.line
order by c.incident, t.at_utc, k.take_no nulls first, t.file, t.line
"""
)
SPANS = (
    AROUND
    + """
select c.incident, a.channel, a.started_at_utc, a.ended_at_utc, a.feed, a.state, a.exposed_why
from channels as c
inner join windows as w on c.incident = w.incident
inner join core_air_spans as a
    on c.channel = a.channel and a.started_at_utc < w.to_at_utc and a.ended_at_utc > w.from_at_utc
order by c.incident, a.channel, a.started_at_utc
"""
)
FEEDS = (
    AROUND
    + """
select c.incident, f.channel, f.started_at_utc, f.ended_at_utc, f.feed
from channels as c
inner join windows as w on c.incident = w.incident
inner join core_feed as f
    on c.channel = f.channel and f.started_at_utc < w.to_at_utc and f.ended_at_utc > w.from_at_utc
order by c.incident, f.channel, f.started_at_utc, f.stay_no
"""
)
STATES = (
    AROUND
    + """
select m.incident, s.machine, s.started_at_utc, s.ended_at_utc, s.state
from machines as m
inner join windows as w on m.incident = w.incident
inner join core_machine_states as s
    on m.machine = s.machine
    and s.started_at_utc < w.to_at_utc
    and (s.ended_at_utc is null or s.ended_at_utc > w.from_at_utc)
order by m.incident, s.machine, s.started_at_utc
"""
)
# Inside air windows the site's rules say from when a machine is known at all; that word goes over its bare state.
NOT_KNOWN_SPANS = (
    AROUND
    + """
select distinct m.incident, p.machine, p.started_at_utc, p.ended_at_utc
from machines as m
inner join windows as w on m.incident = w.incident
inner join core_piece_states as p
    on m.machine = p.machine and p.started_at_utc < w.to_at_utc and p.ended_at_utc > w.from_at_utc
where p.state = 'not known' and p.channel in (select channel from channels as c where c.incident = m.incident)
order by m.incident, p.machine, p.started_at_utc
"""
)
# The run a machine is in as the window opens, so that a stopped transport is not drawn as a failed one.
MOTIONS = (
    AROUND
    + """
select m.incident, e.machine, e.at_utc, e.event
from machines as m
inner join windows as w on m.incident = w.incident
inner join (
    select
        machine, at_utc, event, event_no,
        lead(at_utc) over (partition by machine order by event_no) as next_at_utc
    from core_words
    where event in ('roll', 'stop')
) as e
    on m.machine = e.machine
    and e.at_utc < w.to_at_utc
    and (e.next_at_utc is null or e.next_at_utc >= w.from_at_utc)
order by m.incident, e.machine, e.event_no
"""
)
PLACED_OFFSETS = (
    AROUND
    + """
select m.incident, o.machine, o.partner, o.at_utc, o.offset_s, o.is_within, o.file, o.line
from machines as m
inner join windows as w on m.incident = w.incident
inner join core_offsets as o
    on m.machine = o.machine and o.at_utc >= w.from_at_utc and o.at_utc <= w.to_at_utc
where o.offset_s is not null
order by m.incident, o.at_utc, o.machine, o.offset_s
"""
)
MAINTENANCE = (
    AROUND
    + """
select m.incident, b.machine, b.started_at_utc, b.ended_at_utc, b.file, b.line
from machines as m
inner join windows as w on m.incident = w.incident
inner join clean_bookings as b
    on m.machine = b.machine
    and b.role = 'maintenance'
    and b.started_at_utc < w.to_at_utc
    and b.ended_at_utc > w.from_at_utc
order by m.incident, b.started_at_utc, b.machine
"""
)
# The last care each machine had before the incident: cleaning, line-up, head and part, as logged.
LAST_CARE = (
    AROUND
    + """
select
    m.incident, m.machine, e.event, max(e.at_utc) as at_utc, arg_max(e.detail, e.event_no) as detail,
    arg_max(e.within_s, e.event_no) as within_s, arg_max(e.at_text, e.event_no) as at_text,
    arg_max(e.file, e.event_no) as file, arg_max(e.line, e.event_no) as line
from machines as m
inner join windows as w on m.incident = w.incident
inner join core_words as e
    on m.machine = e.machine
    and e.event in ('clean', 'lineup', 'head_fitted', 'part_fitted')
    and e.at_utc < w.started_at_utc
group by m.incident, m.machine, e.event
order by m.incident, m.machine, e.event
"""
)
INCIDENT_TICKETS = (
    AROUND
    + """
select distinct
    m.incident, t.ticket, t.machine, t.opened_at_utc, t.restored_at_utc, t.closed_at_utc, t.symptom, t.cause, t.action,
    t.part, t.reel, t.file, t.line, p.recovery_no is not null as is_matched
from machines as m
inner join windows as w on m.incident = w.incident
inner join clean_tickets as t on m.machine = t.machine
left join measure_ticket_matches as x on t.ticket = x.ticket
left join shown_parts as p on x.recovery_no = p.recovery_no and p.incident = m.incident
where p.recovery_no is not null or (t.opened_at_utc >= w.from_at_utc and t.opened_at_utc <= w.to_at_utc)
order by m.incident, t.opened_at_utc, t.ticket
"""
)
