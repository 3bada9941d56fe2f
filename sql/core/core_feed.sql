-- What the channel's selector was on during each piece: from its start, then from take to take.
-- At the start: where the last take left it, if that take is fresh and left it on a source that fits; else the machine
-- booked for air; and if the first take inside names another source, that one until then. `take_no` is the take inside
-- the piece that began the stay, `put_there_by` also one before it. A stay has no length where two takes share a stamp.
-- grain: one stay on a source
-- key: channel, piece_started_at_utc, stay_no
-- reads: core_pieces, core_takes, core_members, core_air_booked, core_settings
with
pieces as (select * from core_pieces),
takes as (select * from core_takes),
settings as (select * from core_settings),
timeline as (
    select channel, started_at_utc as at_utc, 0 as is_take, cast(null as bigint) as take_no from pieces
    union all
    select channel, at_utc, 1, take_no from takes
),
looked_back as (
    select
        channel,
        at_utc,
        is_take,
        max(take_no) over (
            partition by channel order by at_utc, is_take rows between unbounded preceding and current row
        ) as last_take_no
    from timeline
),
last_takes as (
    select
        p.channel,
        p.transmission,
        p.started_at_utc,
        t.take_no,
        t.to_machine,
        p.started_at_utc - t.at_utc <= s.lead_time
        or exists (
            select 1
            from pieces as q
            where q.channel = t.channel
                and t.at_utc >= q.started_at_utc
                and t.at_utc < q.ended_at_utc
                and q.ended_at_utc <= p.started_at_utc
                and q.ended_at_utc >= p.started_at_utc - s.lead_time
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
),
inside as (
    select
        p.channel,
        p.transmission,
        p.started_at_utc as piece_started_at_utc,
        p.ended_at_utc as piece_ended_at_utc,
        t.take_no,
        t.at_utc,
        t.from_machine,
        t.to_machine,
        row_number() over (partition by p.channel, p.started_at_utc order by t.take_no) as stay_no
    from pieces as p
    inner join takes as t
        on p.channel = t.channel and t.at_utc >= p.started_at_utc and t.at_utc < p.ended_at_utc
),
starting as (
    select
        p.channel,
        p.transmission,
        p.started_at_utc as piece_started_at_utc,
        p.ended_at_utc as piece_ended_at_utc,
        cast(null as bigint) as take_no,
        case
            when l.is_fresh and l.is_fitting and l.to_machine = coalesce(first_take.from_machine, l.to_machine)
            then l.take_no
        end as put_there_by,
        p.started_at_utc,
        coalesce(
            first_take.from_machine,
            case when l.is_fresh and l.is_fitting then l.to_machine end,
            b.machine
        ) as feed,
        0 as stay_no
    from pieces as p
    left join last_takes as l on p.channel = l.channel and p.started_at_utc = l.started_at_utc
    left join inside as first_take
        on p.channel = first_take.channel
        and p.started_at_utc = first_take.piece_started_at_utc
        and first_take.stay_no = 1
    left join core_air_booked as b
        on p.channel = b.channel
        and p.transmission = b.transmission
        and b.started_at_utc <= p.started_at_utc
        and b.ended_at_utc > p.started_at_utc
),
stays as (
    select
        channel, transmission, piece_started_at_utc, piece_ended_at_utc, take_no, put_there_by, started_at_utc, feed, stay_no
    from starting
    union all
    select
        channel, transmission, piece_started_at_utc, piece_ended_at_utc, take_no, take_no, at_utc, to_machine, stay_no
    from inside
),
spans as (
    select
        channel,
        transmission,
        piece_started_at_utc,
        stay_no,
        started_at_utc,
        coalesce(
            lead(started_at_utc) over (partition by channel, piece_started_at_utc order by stay_no), piece_ended_at_utc
        ) as ended_at_utc,
        feed,
        take_no,
        put_there_by
    from stays
)
select * from spans
