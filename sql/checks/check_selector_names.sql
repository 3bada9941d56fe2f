-- Whether the selector's log and the room speak of the same machines: found where, of at least 20 takes, more than half
-- name a machine that is neither booked nor in any log.
-- grain: one site
-- key: what
-- reads: core_takes, clean_bookings, core_heard_spans
with
takes as (select * from core_takes),
known as (
    select machine from clean_bookings
    union
    select machine from core_heard_spans
    union
    select unnest(['standby', 'other'])
),
judged as (
    select
        t.take_no,
        case
            when f.machine is null and t.from_machine is not null then 1
            when k.machine is null then 1
            else 0
        end as is_strange
    from takes as t
    left join known as f on t.from_machine = f.machine
    left join known as k on t.to_machine = k.machine
),
counted as (select count(*) as takes_count, sum(is_strange) as strange_count from judged),
findings as (
    select
        'switches' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        strange_count || ' of ' || takes_count || ' takes name a machine that is neither booked nor in any log' as what
    from counted
    where takes_count >= 20 and strange_count * 2 > takes_count
)
select * from findings
