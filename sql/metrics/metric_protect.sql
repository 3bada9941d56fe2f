-- Duty as protect: seconds a machine stood good and in step behind good air, and how often it fell out of that and left
-- the same machine, still feeding well, without cover.
-- grain: month, channel, machine
-- key: month, channel, machine
-- reads: core_air_others, core_air_segments, core_air_states, site_months
with
months as (select * from site_months),
covering as (select * from core_air_others where condition = 'covering'),
split as (
    select
        m.month,
        c.channel,
        c.machine,
        date_diff(
            'microsecond',
            greatest(c.started_at_utc, m.started_at_utc),
            least(c.ended_at_utc, m.ended_at_utc)
        ) * 0.000001 as protect_s,
        0 as cover_losses_count
    from covering as c
    inner join months as m on c.started_at_utc < m.ended_at_utc and c.ended_at_utc > m.started_at_utc
),
losses as (
    select m.month, c.channel, c.machine, 0 as protect_s, 1 as cover_losses_count
    from covering as c
    inner join core_air_segments as n
        on c.channel = n.channel
        and c.piece_started_at_utc = n.piece_started_at_utc
        and c.ended_at_utc = n.started_at_utc
        and c.feed = n.feed
    inner join core_air_states as a
        on n.channel = a.channel and n.started_at_utc = a.started_at_utc and a.state in ('unproved', 'exposed')
    inner join core_air_others as o
        on n.channel = o.channel and n.started_at_utc = o.started_at_utc and c.machine = o.machine
    inner join months as m on n.started_at_utc >= m.started_at_utc and n.started_at_utc < m.ended_at_utc
    where o.condition <> 'covering'
),
summed as (
    select month, channel, machine, sum(protect_s) as protect_s, sum(cover_losses_count) as cover_losses_count
    from (select * from split union all select * from losses) as both_kinds
    group by month, channel, machine
)
select * from summed
