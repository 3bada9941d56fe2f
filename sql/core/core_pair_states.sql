-- Whether two machines were in step: while both roll locked, the last offset between them since then decides; before
-- the first offset nothing is proved (null). Of two offsets at one stamp the worse counts.
-- grain: one unbroken word on a pair
-- key: machine_a, machine_b, started_at_utc
-- reads: core_members, core_lock_spans, core_offsets
with
pairs as (
    select distinct a.machine as machine_a, b.machine as machine_b
    from core_members as a
    inner join core_members as b
        on a.channel = b.channel
        and a.transmission = b.transmission
        and a.machine < b.machine
        and a.started_at_utc < b.ended_at_utc
        and b.started_at_utc < a.ended_at_utc
),
-- Both roll locked from where one begins while the other still is. Spans of one machine do not overlap, so that the last
-- of each that had begun says so: in one order, so that the work does not grow with the product of their numbers.
locks as (
    select machine, started_at_utc, coalesce(ended_at_utc, timestamp '9999-12-31') as ended_at_utc from core_lock_spans
),
begun as (
    select
        p.machine_a,
        p.machine_b,
        l.started_at_utc,
        case when l.machine = p.machine_a then l.started_at_utc end as a_started_at_utc,
        case when l.machine = p.machine_a then l.ended_at_utc end as a_ended_at_utc,
        case when l.machine = p.machine_b then l.started_at_utc end as b_started_at_utc,
        case when l.machine = p.machine_b then l.ended_at_utc end as b_ended_at_utc
    from pairs as p
    inner join locks as l on l.machine = p.machine_a or l.machine = p.machine_b
),
lasting_locks as (
    select
        machine_a,
        machine_b,
        started_at_utc,
        max(a_started_at_utc) over so_far as a_started_at_utc,
        max(a_ended_at_utc) over so_far as a_ended_at_utc,
        max(b_started_at_utc) over so_far as b_started_at_utc,
        max(b_ended_at_utc) over so_far as b_ended_at_utc
    from begun
    window so_far as (
        partition by machine_a, machine_b order by started_at_utc range between unbounded preceding and current row
    )
),
joint as (
    select distinct
        machine_a,
        machine_b,
        greatest(a_started_at_utc, b_started_at_utc) as started_at_utc,
        least(a_ended_at_utc, b_ended_at_utc) as ended_at_utc
    from lasting_locks
    where a_ended_at_utc > started_at_utc and b_ended_at_utc > started_at_utc
),
said as (
    select
        least(machine, partner) as machine_a,
        greatest(machine, partner) as machine_b,
        at_utc,
        is_within
    from core_offsets
    where partner is not null and offset_s is not null
),
words as (
    select
        machine_a,
        machine_b,
        started_at_utc as joint_started_at_utc,
        ended_at_utc as joint_ended_at_utc,
        started_at_utc as at_utc,
        cast(null as boolean) as is_in_step,
        0 as word_rank
    from joint
    union all
    select
        j.machine_a,
        j.machine_b,
        j.started_at_utc,
        j.ended_at_utc,
        o.at_utc,
        o.is_within,
        case when o.is_within then 1 else 2 end
    from joint as j
    inner join said as o
        on j.machine_a = o.machine_a
        and j.machine_b = o.machine_b
        and o.at_utc >= j.started_at_utc
        and o.at_utc < j.ended_at_utc
),
spans as (
    select
        machine_a,
        machine_b,
        at_utc as started_at_utc,
        coalesce(
            lead(at_utc) over (partition by machine_a, machine_b, joint_started_at_utc order by at_utc, word_rank),
            joint_ended_at_utc
        ) as ended_at_utc,
        is_in_step
    from words
),
lasting as (
    select
        machine_a,
        machine_b,
        started_at_utc,
        nullif(ended_at_utc, timestamp '9999-12-31') as ended_at_utc,
        is_in_step
    from spans
    where ended_at_utc > started_at_utc
)
select * from lasting
