-- Pieces whose length is not air in the five states, time on another source, time ruled no air, and an early
-- end, to the microsecond.
-- grain: one piece
-- key: what
-- reads: core_pieces, core_air_spans, core_air_segments, core_early_ends, core_not_air
with
pieces as (select * from core_pieces),
parts as (
    select channel, piece_started_at_utc, started_at_utc, ended_at_utc from core_air_spans
    union all
    select channel, piece_started_at_utc, started_at_utc, ended_at_utc from core_air_segments where feed = 'other'
    union all
    select e.channel, e.piece_started_at_utc, e.ended_early_at_utc, p.ended_at_utc
    from core_early_ends as e
    inner join pieces as p on e.channel = p.channel and e.piece_started_at_utc = p.started_at_utc
    union all
    select
        p.channel,
        p.started_at_utc,
        greatest(n.started_at_utc, p.started_at_utc),
        least(n.ended_at_utc, p.ended_at_utc, coalesce(e.ended_early_at_utc, p.ended_at_utc))
    from pieces as p
    inner join core_not_air as n
        on p.channel = n.channel and n.started_at_utc < p.ended_at_utc and n.ended_at_utc > p.started_at_utc
    left join core_early_ends as e on p.channel = e.channel and p.started_at_utc = e.piece_started_at_utc
    where e.ended_early_at_utc is null or n.started_at_utc < e.ended_early_at_utc
),
summed as (
    select channel, piece_started_at_utc, sum(date_diff('microsecond', started_at_utc, ended_at_utc)) as parts_us
    from parts
    group by channel, piece_started_at_utc
),
compared as (
    select
        p.*,
        date_diff('microsecond', p.started_at_utc, p.ended_at_utc) as piece_us,
        coalesce(s.parts_us, 0) as parts_us
    from pieces as p
    left join summed as s on p.channel = s.channel and p.started_at_utc = s.piece_started_at_utc
),
findings as (
    select
        cast(null as varchar) as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        transmission || ' on ' || channel || ' at ' || cast(started_at_utc as varchar) || ' UTC: '
        || cast(piece_us * 0.000001 as varchar) || ' s of air, and '
        || cast(parts_us * 0.000001 as varchar) || ' s in its parts' as what
    from compared
    where piece_us <> parts_us
)
select * from findings
