-- Interruptions: the joined stretches of lost air, with what protect did about them.
-- A demand begins with the feeding machine known not good. Met: covered just before, and ended by a take to a machine
-- that covered. Healed: ended with no take, inside the piece. Open: cut short by the end of the piece, by a stretch
-- ruled no air, or by the log falling silent. Unprotected: no other machine of the transmission.
-- grain: one interruption
-- key: interruption_no
-- reads: core_lost_stretches, core_air_spans, core_air_others, core_pieces, core_early_ends, core_takes, core_members, core_not_air
with
grouped as (select * from core_lost_stretches),
covering as (
    select g.channel, g.started_at_utc, o.machine
    from grouped as g
    inner join core_air_others as o
        on g.channel = o.channel
        and g.piece_started_at_utc = o.piece_started_at_utc
        and g.started_at_utc = o.ended_at_utc
        and o.condition = 'covering'
),
ending_takes as (
    select g.channel, g.started_at_utc, t.to_machine
    from grouped as g
    inner join core_takes as t on g.channel = t.channel and g.ended_at_utc = t.at_utc
),
met as (
    select distinct c.channel, c.started_at_utc
    from covering as c
    inner join ending_takes as t
        on c.channel = t.channel and c.started_at_utc = t.started_at_utc and c.machine = t.to_machine
),
protected as (
    select distinct g.channel, g.started_at_utc
    from grouped as g
    inner join core_members as m
        on g.channel = m.channel
        and g.transmission = m.transmission
        and g.first_feed <> m.machine
        and m.started_at_utc <= g.started_at_utc
        and m.ended_at_utc > g.started_at_utc
),
ends as (
    select p.channel, p.started_at_utc, coalesce(e.ended_early_at_utc, p.ended_at_utc) as ended_at_utc
    from core_pieces as p
    left join core_early_ends as e on p.channel = e.channel and p.started_at_utc = e.piece_started_at_utc
),
judged as (
    select
        g.*,
        g.first_feed <> 'standby' as is_demand,
        g.ended_at_utc = p.ended_at_utc
        or n.channel is not null
        or (
            not exists (
                select 1 from ending_takes as t where t.channel = g.channel and t.started_at_utc = g.started_at_utc
            )
            and exists (
                select 1
                from core_air_spans as u
                where u.channel = g.channel and u.started_at_utc = g.ended_at_utc and u.state = 'unknown'
            )
        ) as is_open,
        exists (select 1 from covering as c where c.channel = g.channel and c.started_at_utc = g.started_at_utc) as was_covered,
        exists (select 1 from met as m where m.channel = g.channel and m.started_at_utc = g.started_at_utc) as ends_in_protect,
        exists (select 1 from ending_takes as t where t.channel = g.channel and t.started_at_utc = g.started_at_utc) as ends_in_take,
        not exists (select 1 from protected as m where m.channel = g.channel and m.started_at_utc = g.started_at_utc) as is_alone
    from grouped as g
    inner join ends as p on g.channel = p.channel and g.last_piece_started_at_utc = p.started_at_utc
    left join core_not_air as n on g.channel = n.channel and g.ended_at_utc = n.started_at_utc
),
interruptions as (
    select
        row_number() over (order by channel, started_at_utc) as interruption_no,
        channel,
        transmission,
        last_transmission,
        piece_started_at_utc,
        last_piece_started_at_utc,
        started_at_utc,
        ended_at_utc,
        nullif(first_feed, 'standby') as machine,
        lost_s,
        is_open,
        was_covered,
        is_demand,
        is_demand and ends_in_protect and not is_open as is_met,
        is_demand and not is_open and not ends_in_take as is_healed,
        is_demand and is_alone as is_unprotected
    from judged
)
select * from interruptions
