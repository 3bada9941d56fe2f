"""The selects that find the source rows of every edge: what in the logs, the selector's record and the bookings bears
exactly the instant at which an item begins or ends.

An edge is an instant on a channel. A row proves it when its own (corrected) time is that instant and it could have
changed something there: a take of the channel; an event that changes the state, the lock or the step of a machine that
fed the channel or was of its transmission; a booking that begins or ends; a ruling. What rests on a time that elapsed
(a silence, the carry) is proved by the row from which it ran.
"""

from __future__ import annotations

# Temporary tables that stand before the selects below are read, for all of them ask for these.
EDGE_TABLES = {
    # The edges of what is a machine's own.
    "edge_owners": """
        select channel, unnest([started_at_utc, ended_at_utc]) as at_utc, machine from core_rescues
        union
        select channel, unnest([started_at_utc, ended_at_utc]), machine from core_overruns
        union
        select channel, unnest([started_at_utc, ended_at_utc]), machine
        from core_air_others where condition = 'covering'
        union
        select channel, unnest([onset_at_utc, take_at_utc, covered_again_at_utc, started_at_utc, ended_at_utc]), machine
        from core_recoveries
    """,
    "edge_instants": """
        with
        edges as (
            select channel, unnest([started_at_utc, ended_at_utc]) as at_utc from core_air_spans
            union
            select channel, unnest([started_at_utc, ended_at_utc]) from core_pieces
            union
            select channel, ended_early_at_utc from core_early_ends
            union
            select channel, unnest([at_utc, completed_at_utc]) from core_switches
            union
            select channel, at_utc from edge_owners
        )
        select distinct channel, at_utc from edges where at_utc is not null
    """,
    # Spans are met by the day: each instant held against all spans of its channel would grow as a square.
    "edge_relevant": """
        with
        instants as (select channel, at_utc, date_trunc('day', at_utc) as day_at_utc from edge_instants),
        spans as (
            select distinct channel, machine, started_at_utc, ended_at_utc from core_members
            union
            select channel, feed, started_at_utc, ended_at_utc from core_feed where feed not in ('standby', 'other')
        ),
        days as (
            select
                *,
                unnest(generate_series(
                    date_trunc('day', started_at_utc), ended_at_utc, interval 1 day
                )) as day_at_utc
            from spans
        )
        select channel, at_utc, machine from edge_owners where machine is not null and at_utc is not null
        union
        select e.channel, e.at_utc, s.machine
        from instants as e
        inner join days as s
            on e.channel = s.channel
            and e.day_at_utc = s.day_at_utc
            and s.started_at_utc <= e.at_utc
            and s.ended_at_utc >= e.at_utc
    """,
}
EDGES = """
with
instants as (select * from edge_instants),
relevant as (select * from edge_relevant)
"""
# Of the events at one instant those count that can change a state; another one (a first word, the end of a silence)
# only where there is none such.
EVENTS = (
    EDGES
    + """,
changes as (
    select machine, unnest([started_at_utc, ended_at_utc]) as at_utc from core_machine_states
    union
    select machine, started_at_utc from core_piece_states
    union
    select machine, unnest([started_at_utc, ended_at_utc]) from core_lock_spans
    union
    select machine_a, unnest([started_at_utc, ended_at_utc]) from core_pair_states
    union
    select machine_b, unnest([started_at_utc, ended_at_utc]) from core_pair_states
    union
    select machine, onset_at_utc from core_recoveries where onset_at_utc is not null
),
found as (
    select
        r.channel, r.at_utc, e.machine, e.event, e.file, e.line,
        case
            when e.event in (
                'roll', 'stop', 'lock', 'unlock', 'picture_lost', 'picture_back', 'sound_lost', 'sound_back', 'offset'
            ) then 1 else 2
        end as rank
    from relevant as r
    inner join changes as c on r.machine = c.machine and r.at_utc = c.at_utc
    inner join core_events as e on r.machine = e.machine and r.at_utc = e.at_utc
),
ranked as (select *, min(rank) over (partition by channel, at_utc, machine) as best_rank from found)
select distinct
    channel, at_utc, 'event' as source, machine, file, line,
    machine || ': ' || replace(event, '_', ' ') as why
from ranked
where rank = best_rank
"""
)
LAST_LINE = """
    order by
        e.event_rank desc, e.event desc, e.detail desc nulls last, e.value desc nulls last, e.file desc, e.line desc
"""
SILENCES = (
    EDGES
    + f""",
silences as (
    select distinct r.channel, r.at_utc, m.machine, r.at_utc - s.silence_time as heard_at_utc
    from relevant as r
    cross join core_settings as s
    inner join core_machine_states as m
        on r.machine = m.machine and m.state = 'silent' and r.at_utc = m.started_at_utc
)
select
    r.channel, r.at_utc, 'silence' as source, e.machine, e.file, e.line,
    'nothing heard from ' || e.machine || ' for the silence of the site''s settings after this, its last line' as why
from silences as r
inner join core_events as e on r.machine = e.machine and r.heard_at_utc = e.at_utc
qualify row_number() over (partition by r.channel, r.at_utc, e.machine {LAST_LINE}) = 1
"""
)
CARRIES = f"""
with
waits as (
    select distinct o.channel, o.ended_at_utc as at_utc, o.machine, o.ended_at_utc - s.carry_time as heard_at_utc
    from core_overruns as o
    cross join core_settings as s
)
select
    o.channel, o.at_utc, 'carry' as source, e.machine, e.file, e.line,
    'nothing heard from ' || e.machine || ' for the carry of the site''s settings after this line' as why
from waits as o
inner join core_events as e on o.machine = e.machine and o.heard_at_utc = e.at_utc
qualify row_number() over (partition by o.channel, o.at_utc, e.machine {LAST_LINE}) = 1
"""
TAKES = (
    EDGES
    + """
select
    i.channel, i.at_utc, 'take' as source, t.to_machine as machine, t.file, t.line,
    'take' || coalesce(' from ' || t.from_machine, '') || ' to ' || t.to_machine
    || coalesce(', reason ' || t.reason, '') as why
from instants as i
inner join core_takes as t on i.channel = t.channel and i.at_utc = t.at_utc
union all
select
    i.channel, i.at_utc, 'start', t.to_machine, t.file, t.line,
    'a start command names ' || t.to_machine || ', which so joins the transmission'
from instants as i
inner join clean_switches as t on t.action = 'start' and i.channel = t.channel and i.at_utc = t.at_utc
inner join core_named as n
    on t.channel = n.channel and t.at_utc = n.at_utc and t.to_machine = n.machine and not n.is_left
"""
)
BOOKINGS = (
    EDGES
    + """,
bookings as (
    select b.*, s.lead_time from clean_bookings as b cross join core_settings as s where b.role in ('air', 'protect')
),
placed as (
    select *, started_at_utc as at_utc, ' begins' as told from bookings
    union all
    select *, ended_at_utc, ' ends' from bookings
    union all
    select *, started_at_utc - lead_time, ' counts from the lead before its beginning' from bookings
)
select
    i.channel, i.at_utc, 'booking' as source, b.machine, b.file, b.line,
    'booking of ' || b.machine || ' as ' || b.role || b.told as why
from instants as i
inner join placed as b on i.channel = b.channel and i.at_utc = b.at_utc
"""
)
RULINGS = (
    EDGES
    + """,
placed as (
    select channel, ruling, started_at_utc as at_utc, ' begins' as told from core_not_air
    union all
    select channel, ruling, ended_at_utc, ' ends' from core_not_air
)
select
    i.channel, i.at_utc, 'ruling' as source, cast(null as varchar) as machine, r.file, r.line,
    'ruling ' || p.ruling || ': what is not air time' || p.told as why
from instants as i
inner join placed as p on i.channel = p.channel and i.at_utc = p.at_utc
inner join clean_rulings as r on p.ruling = r.ruling
"""
)
# The stamps of the rows at the latest instant of all, as they stand in the files; said as values, so that nothing else
# is read: no clock was corrected by more.
LAST_STAMPS = """
select
    a.as_of_at_utc - to_microseconds(coalesce(max(h.most_corrected_us), 0)),
    a.as_of_at_utc + to_microseconds(coalesce(max(h.most_corrected_us), 0))
from core_as_of as a
left join core_heard_spans as h on true
group by a.as_of_at_utc
"""
AS_OF = """
select
    'as of' as source, e.machine, e.file, e.line, 'the data end with this row, the latest stamp of all' as why
from core_as_of as a
inner join core_events as e
    on a.as_of_at_utc = e.at_utc and e.stamped_at_utc between timestamp '{first}' and timestamp '{last}'
union all
select 'as of', null, t.file, t.line, 'the data end with this row, the latest stamp of all'
from core_as_of as a
inner join clean_switches as t on a.as_of_at_utc = t.at_utc
order by all
"""
# A pair is a start command (or what a clock line says of the house clock) and the machine's own stamp of it.
CLOCK_PAIRS = """
with
pairs as (
    select p.*, p.house_at_utc - to_microseconds(cast(round(s.start_delay_s * 1000000) as bigint)) as command_at_utc
    from raw_clock_pairs as p
    cross join site_settings as s
)
select p.machine, p.house_at_utc, p.machine_at_utc, t.file, t.line, 'start command, on the house clock' as why
from pairs as p
inner join clean_switches as t
    on t.action = 'start' and p.machine = t.to_machine and abs(epoch_us(p.command_at_utc) - epoch_us(t.at_utc)) <= 1
union all
select
    p.machine, p.house_at_utc, p.machine_at_utc, e.file, e.line,
    case e.event when 'roll' then 'roll' else 'reading of the clock' end || ', as the machine stamped it'
from pairs as p
inner join clean_events as e
    on p.machine = e.machine
    and e.event in ('roll', 'clock')
    and abs(epoch_us(p.machine_at_utc) - epoch_us(e.stamped_at_utc)) <= 1
order by all
"""
MONTHS = "select started_at_utc as at_utc from site_months union select ended_at_utc from site_months"
