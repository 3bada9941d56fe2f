-- When each machine was not good by all that its log had said, from the first event that says so to the first that says
-- otherwise; the silence of a machine that logs `alive` does not end it.
-- grain: one unbroken stretch of not good
-- key: machine, started_at_utc
-- reads: core_machine_moments
-- renewed: by machine
with
moments as (
    select * from core_machine_moments where next_at_utc is null or next_at_utc > at_utc
),
changes as (
    select
        *,
        case
            when state = lag(state) over (partition by machine order by moment_no) then 0 else 1
        end as is_change
    from moments
),
numbered as (
    select
        *,
        sum(is_change) over (
            partition by machine order by moment_no rows between unbounded preceding and current row
        ) as state_no
    from changes
),
spans as (
    select
        machine,
        min(at_utc) as started_at_utc,
        case when max(case when next_at_utc is null then 1 else 0 end) = 0 then max(next_at_utc) end as ended_at_utc
    from numbered
    where state = 'not good'
    group by machine, state_no
)
select * from spans
