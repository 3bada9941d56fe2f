-- When each machine was rolling and locked without a break; picture and sound do not matter here.
-- grain: one unbroken stretch of rolling and locked
-- key: machine, started_at_utc
-- reads: core_machine_moments
-- renewed: by machine
with
moments as (select * from core_machine_moments),
numbered as (
    select
        machine,
        at_utc,
        next_at_utc,
        is_rolling_locked,
        run_no,
        sum(case when is_rolling_locked then 0 else 1 end) over (
            partition by machine order by moment_no rows between unbounded preceding and current row
        ) as break_no
    from moments
),
spans as (
    select
        machine,
        min(at_utc) as started_at_utc,
        case when max(case when next_at_utc is null then 1 else 0 end) = 0 then max(next_at_utc) end as ended_at_utc
    from numbered
    where is_rolling_locked
    group by machine, run_no, break_no
)
select * from spans
