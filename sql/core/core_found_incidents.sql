-- Which recoveries and rescues make one incident by the rules: linked where they lie closer than the incident gap on a
-- channel or on a machine they share, directly or through others. On each channel and machine they are chained in order
-- of time, and chains that share a recovery are joined, so that the work grows with the recoveries, not with their pairs.
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
parted as (
    select
        t.event_key,
        t.tag,
        t.started_at_utc,
        t.ended_at_utc,
        coalesce(t.started_at_utc < max(t.ended_at_utc) over before + s.incident_gap_time, false) as is_near
    from tags as t
    cross join settings as s
    window before as (
        partition by t.tag order by t.started_at_utc, t.ended_at_utc, t.event_key
        rows between unbounded preceding and 1 preceding
    )
),
clusters as (
    select
        event_key,
        tag || ' ' || sum(case when is_near then 0 else 1 end) over (
            partition by tag order by started_at_utc, ended_at_utc, event_key
            rows between unbounded preceding and current row
        ) as cluster
    from parted
),
links as (
    select
        cluster as from_cluster,
        min(cluster) over (partition by event_key) as to_cluster
    from clusters
),
both_ways as (
    select from_cluster, to_cluster from links
    union
    select to_cluster, from_cluster from links
),
joined(cluster, first_cluster) using key (cluster) as (
    select distinct cluster, cluster from clusters
    union
    (
        select b.to_cluster, min(j.first_cluster)
        from joined as j
        inner join both_ways as b on j.cluster = b.from_cluster
        inner join recurring.joined as k on b.to_cluster = k.cluster
        where j.first_cluster < k.first_cluster
        group by b.to_cluster
    )
),
grouped as (
    select c.event_key, min(j.first_cluster) as group_name
    from clusters as c
    inner join joined as j on c.cluster = j.cluster
    group by c.event_key
),
firsts as (
    select
        g.group_name,
        arg_min(e.channel, (e.started_at_utc, e.event_key)) as first_channel,
        min(e.started_at_utc) as first_at_utc
    from grouped as g
    inner join events as e on g.event_key = e.event_key
    group by g.group_name
),
words as (
    select
        group_name,
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
    inner join grouped as g on e.event_key = g.event_key
    inner join numbered as n on g.group_name = n.group_name
)
select * from named
