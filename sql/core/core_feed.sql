-- What the channel's selector was on during each piece: from its start, then from take to take.
-- At the start: where the last take left it, if that take is fresh and left it on a source that fits; else the machine
-- booked for air; and if the first take inside names another source, that one until then. `take_no` is the take inside
-- the piece that began the stay, `put_there_by` also one before it. A stay has no length where two takes share a stamp.
-- grain: one stay on a source
-- key: channel, piece_started_at_utc, stay_no
-- reads: core_pieces, core_takes, core_last_takes, core_air_booked
-- renewed: by piece
with
pieces as (select * from core_pieces),
takes as (select * from core_takes),
last_takes as (select * from core_last_takes where is_fresh and is_fitting),
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
        case when l.to_machine = coalesce(first_take.from_machine, l.to_machine) then l.take_no end as put_there_by,
        p.started_at_utc,
        coalesce(first_take.from_machine, l.to_machine, b.machine) as feed,
        0 as stay_no
    from pieces as p
    left join last_takes as l on p.channel = l.channel and p.started_at_utc = l.piece_started_at_utc
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
