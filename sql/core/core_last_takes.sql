-- The last take before each piece, and whether it says where the selector is at the start: fresh (at most the lead old,
-- or inside a piece that ended at most the lead before) and fitting (to a machine of the transmission, standby or other).
-- grain: one piece with a take before it
-- key: channel, piece_started_at_utc
-- reads: core_pieces, core_takes, core_members, core_settings
with
pieces as (select * from core_pieces),
takes as (select * from core_takes),
settings as (select * from core_settings),
timeline as (
    select channel, started_at_utc as at_utc, 0 as is_take, cast(null as bigint) as take_no, ended_at_utc from pieces
    union all
    select channel, at_utc, 1, take_no, null from takes
),
looked_back as (
    select
        channel,
        at_utc,
        is_take,
        take_no,
        max(take_no) over (
            partition by channel order by at_utc, is_take rows between unbounded preceding and current row
        ) as last_take_no,
        max(ended_at_utc) over (
            partition by channel order by at_utc, is_take rows between unbounded preceding and current row
        ) as last_ended_at_utc
    from timeline
),
-- Pieces of a channel do not overlap, so that a take is inside the last that had begun, or inside none.
inside as (
    select channel, take_no, last_ended_at_utc as piece_ended_at_utc
    from looked_back
    where is_take = 1 and last_ended_at_utc > at_utc
),
last_takes as (
    select
        p.channel,
        p.started_at_utc as piece_started_at_utc,
        t.take_no,
        t.to_machine,
        p.started_at_utc - t.at_utc <= s.lead_time
        or coalesce(
            i.piece_ended_at_utc <= p.started_at_utc and i.piece_ended_at_utc >= p.started_at_utc - s.lead_time, false
        ) as is_fresh,
        t.to_machine in ('standby', 'other')
        or exists (
            select 1
            from core_members as m
            where m.channel = p.channel
                and m.transmission = p.transmission
                and m.machine = t.to_machine
                and m.started_at_utc <= p.started_at_utc
                and m.ended_at_utc > p.started_at_utc
        ) as is_fitting
    from pieces as p
    cross join settings as s
    inner join looked_back as l on p.channel = l.channel and p.started_at_utc = l.at_utc and l.is_take = 0
    inner join takes as t on l.last_take_no = t.take_no
    left join inside as i on t.channel = i.channel and t.take_no = i.take_no
)
select * from last_takes
