-- Which recoveries and rescues make one incident: linked where they lie closer than the incident gap on a channel or on
-- a machine they share, directly or through others.
-- grain: one recovery or rescue
-- key: event_key
-- reads: core_recovery_events, core_switches, core_rescues, core_settings
with recursive
settings as (select * from core_settings),
events as (
    select
        'recovery ' || e.recovery_no as event_key,
        e.recovery_no,
        e.channel,
        e.started_at_utc,
        greatest(e.ended_at_utc, e.settled_at_utc) as ended_at_utc,
        e.machine,
        s.to_machine
    from core_recovery_events as e
    left join core_switches as s on e.switch_no = s.switch_no
    union all
    select
        'rescue ' || channel || ' ' || started_at_utc,
        null,
        channel,
        started_at_utc,
        ended_at_utc,
        machine,
        null
    from core_rescues
),
tags as (
    select event_key, started_at_utc, ended_at_utc, 'channel ' || channel as tag from events
    union
    select event_key, started_at_utc, ended_at_utc, 'machine ' || machine from events where machine is not null
    union
    select event_key, started_at_utc, ended_at_utc, 'machine ' || to_machine from events where to_machine is not null
),
links as (
    select distinct a.event_key as from_key, b.event_key as to_key
    from tags as a
    cross join settings as s
    inner join tags as b
        on a.tag = b.tag
        and b.started_at_utc < a.ended_at_utc + s.incident_gap_time
        and a.started_at_utc < b.ended_at_utc + s.incident_gap_time
),
reached as (
    select event_key as from_key, event_key as to_key from events
    union
    select r.from_key, l.to_key
    from reached as r
    inner join links as l on r.to_key = l.from_key
),
firsts as (
    select
        r.from_key as event_key,
        arg_min(e.channel, (e.started_at_utc, e.event_key)) as first_channel,
        min(e.started_at_utc) as first_at_utc
    from reached as r
    inner join events as e on r.to_key = e.event_key
    group by r.from_key
),
words as (
    select
        event_key,
        first_at_utc,
        first_channel,
        strftime(first_at_utc, '%Y%m%d-%H%M%S') || '-'
        || left(regexp_replace(lower(first_channel), '[^a-z0-9]+', '-', 'g'), 60) as word
    from firsts
),
numbered as (
    select *, dense_rank() over (partition by word order by first_at_utc, first_channel) as word_no from words
),
named as (
    select
        case when n.word_no = 1 then n.word else n.word || '_' || n.word_no end as incident,
        e.*
    from events as e
    inner join numbered as n on e.event_key = n.event_key
)
select * from named
