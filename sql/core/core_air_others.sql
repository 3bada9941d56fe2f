-- What every other machine of the transmission was worth while a machine of it fed air and was good.
-- grain: one slice of air and one other machine of the transmission
-- key: channel, started_at_utc, machine
-- reads: core_air_segments, core_members, core_piece_states, core_pair_states
-- renewed: by piece
with
segments as (select * from core_air_segments where feed_state = 'good' and is_member),
others as (
    select s.*, m.machine, t.state
    from segments as s
    inner join core_members as m
        on s.channel = m.channel
        and s.transmission = m.transmission
        and s.feed <> m.machine
        and m.started_at_utc <= s.started_at_utc
        and m.ended_at_utc > s.started_at_utc
    left join core_piece_states as t
        on s.channel = t.channel
        and s.piece_started_at_utc = t.piece_started_at_utc
        and m.machine = t.machine
        and t.started_at_utc <= s.started_at_utc
        and t.ended_at_utc > s.started_at_utc
),
-- The pair's state at each beginning of a slice is the one that began last: found in one order of time, since a pair that
-- reports its offset every minute has as many states as slices, and all against all is a square.
timed as (
    select distinct least(feed, machine) as machine_a, greatest(feed, machine) as machine_b, started_at_utc as at_utc
    from others
),
placed as (
    select machine_a, machine_b, at_utc, cast(null as timestamp) as started_at_utc from timed
    union all
    select machine_a, machine_b, started_at_utc, started_at_utc from core_pair_states
),
latest as (
    select
        machine_a,
        machine_b,
        at_utc,
        started_at_utc is null as is_asked,
        max(started_at_utc) over (partition by machine_a, machine_b order by at_utc) as began_at_utc
    from placed
),
steps as (
    select l.machine_a, l.machine_b, l.at_utc, w.is_in_step
    from latest as l
    inner join core_pair_states as w
        on l.machine_a = w.machine_a
        and l.machine_b = w.machine_b
        and l.began_at_utc = w.started_at_utc
        and (w.ended_at_utc is null or w.ended_at_utc > l.at_utc)
    where l.is_asked
),
weighed as (
    select
        o.channel,
        o.transmission,
        o.piece_started_at_utc,
        o.started_at_utc,
        o.ended_at_utc,
        o.feed,
        o.machine,
        case
            when o.state = 'not good' then 'not good'
            when o.state is null or o.state = 'not known' then 'not known'
            when w.is_in_step is null then 'no offset'
            when w.is_in_step then 'covering'
            else 'out of step'
        end as condition
    from others as o
    left join steps as w
        on least(o.feed, o.machine) = w.machine_a
        and greatest(o.feed, o.machine) = w.machine_b
        and o.started_at_utc = w.at_utc
)
select * from weighed
