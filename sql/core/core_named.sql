-- Machines that a take or a start names on a channel during a piece, and that so join the transmission from then on.
-- Left out: a machine booked to another transmission at that instant, and the machine that a programme change leaves
-- (fed over from the programme before: booked to it or named in it on this channel, and that ended at most the lead ago).
-- grain: one naming
-- key: channel, at_utc, machine, is_left
-- reads: core_pieces, core_takes, clean_switches, core_booked_spans, core_settings
with
pieces as (select * from core_pieces),
booked as (select * from core_booked_spans),
settings as (select * from core_settings),
namings as (
    select channel, at_utc, from_machine as machine, true as is_left from core_takes
    union
    select channel, at_utc, to_machine, false from core_takes
    union
    select channel, at_utc, to_machine, false from clean_switches where action = 'start'
),
-- The last piece that had begun at each naming: pieces and namings in one order, so that the work does not grow with
-- their product.
together as (
    select channel, at_utc, machine, is_left, 1 as is_naming from namings
    where machine is not null and machine not in ('standby', 'other')
    union all
    select channel, started_at_utc, null, null, 0 from pieces
),
placed as (
    select
        *,
        max(case when is_naming = 0 then at_utc end) over (
            partition by channel order by at_utc, is_naming rows between unbounded preceding and current row
        ) as piece_started_at_utc
    from together
),
inside as (
    select
        p.channel,
        p.transmission,
        p.window_started_at_utc,
        p.window_ended_at_utc,
        p.ended_at_utc as piece_ended_at_utc,
        n.machine,
        n.at_utc,
        n.is_left
    from placed as n
    inner join pieces as p on n.channel = p.channel and n.piece_started_at_utc = p.started_at_utc
    where n.is_naming = 1 and n.at_utc < p.ended_at_utc
),
-- How many bookings have the machine at each naming: counted up and down along its time, in one order again. A machine is
-- free where all of them are of the transmission itself.
steps as (
    select machine, started_at_utc as at_utc, 1 as step from booked where ended_at_utc > started_at_utc
    union all
    select machine, ended_at_utc, -1 from booked where ended_at_utc > started_at_utc
    union all
    select machine, at_utc, 0 from inside
),
held as (
    select distinct
        machine,
        at_utc,
        sum(step) over (
            partition by machine order by at_utc range between unbounded preceding and current row
        ) as booked_count
    from steps
),
own as (
    select i.machine, i.at_utc, i.transmission, count(*) as booked_count
    from (select distinct machine, at_utc, transmission from inside) as i
    inner join booked as b
        on i.machine = b.machine
        and i.transmission = b.transmission
        and i.at_utc >= b.started_at_utc
        and i.at_utc < b.ended_at_utc
    group by i.machine, i.at_utc, i.transmission
),
free as (
    select i.*
    from inside as i
    inner join held as h on i.machine = h.machine and i.at_utc = h.at_utc
    left join own as o on i.machine = o.machine and i.at_utc = o.at_utc and i.transmission = o.transmission
    where h.booked_count = coalesce(o.booked_count, 0)
),
brought_over as (
    select f.channel, f.at_utc, f.machine
    from free as f
    cross join settings as s
    inner join booked as b
        on f.machine = b.machine
        and f.channel = b.channel
        and f.transmission <> b.transmission
        and b.ended_at_utc <= f.at_utc
        and b.ended_at_utc >= f.at_utc - s.lead_time
    where f.is_left
    union
    select f.channel, f.at_utc, f.machine
    from free as f
    cross join settings as s
    inner join free as b
        on f.machine = b.machine
        and f.channel = b.channel
        and f.transmission <> b.transmission
        and b.piece_ended_at_utc <= f.at_utc
        and b.piece_ended_at_utc >= f.at_utc - s.lead_time
    where f.is_left
),
earlier as (
    select f.channel, f.at_utc, f.machine
    from free as f
    inner join free as t
        on f.channel = t.channel
        and f.window_started_at_utc = t.window_started_at_utc
        and f.transmission = t.transmission
        and f.machine = t.machine
        and t.at_utc < f.at_utc
        and not t.is_left
    where f.is_left
    union
    select f.channel, f.at_utc, f.machine
    from free as f
    inner join booked as b
        on f.machine = b.machine
        and f.transmission = b.transmission
        and f.channel = b.channel
        and f.at_utc >= b.started_at_utc
        and f.at_utc < b.ended_at_utc
    where f.is_left
),
joining as (
    select f.*
    from free as f
    left join brought_over as o on f.channel = o.channel and f.at_utc = o.at_utc and f.machine = o.machine
    left join earlier as e on f.channel = e.channel and f.at_utc = e.at_utc and f.machine = e.machine
    where not f.is_left or o.machine is null or e.machine is not null
),
distinct_namings as (select distinct * from joining)
select * from distinct_namings
