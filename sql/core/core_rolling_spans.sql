-- When each machine rolled, its heads on tape. A run is believed at most the carry after a word (of a machine that logs
-- `alive`: the silence), and nothing until the next word; never past the data-as-of. `is_start`: it begins with a roll
-- that began a run, so starts are counted once. A roll in the very instant of the data-as-of has no length yet.
-- grain: one unbroken stretch of rolling
-- key: machine, started_at_utc
-- reads: core_machine_moments, core_as_of, core_settings
-- renewed: by machine
with
moments as (select * from core_machine_moments),
settings as (select * from core_settings),
as_of as (select * from core_as_of),
believed as (
    select
        m.machine,
        m.moment_no,
        m.run_no,
        m.is_rolling,
        m.at_utc,
        least(
            coalesce(m.next_at_utc, a.as_of_at_utc),
            m.heard_until_utc + case when m.logs_alive then s.silence_time else s.carry_time end,
            a.as_of_at_utc
        ) as until_utc
    from moments as m
    cross join settings as s
    cross join as_of as a
),
ordered as (
    select
        *,
        lag(run_no) over (partition by machine order by moment_no) as last_run_no,
        lag(until_utc) over (partition by machine order by moment_no) as last_until_utc
    from believed
),
numbered as (
    select
        *,
        case when run_no = coalesce(last_run_no, -1) then 0 else 1 end as begins_run,
        sum(case when run_no = coalesce(last_run_no, -1) and last_until_utc >= at_utc then 0 else 1 end) over (
            partition by machine order by moment_no rows between unbounded preceding and current row
        ) as stretch_no
    from ordered
),
stretches as (
    select
        machine,
        run_no,
        min(at_utc) as started_at_utc,
        max(until_utc) as ended_at_utc,
        max(begins_run) = 1 as is_start
    from numbered
    where is_rolling
    group by machine, run_no, stretch_no
),
lasting as (select * from stretches where ended_at_utc > started_at_utc)
select * from lasting
