-- Each machine's state over time. A machine that logs `alive` is silent from the silence after its last line until the
-- next; spans without length are gone, equal neighbours are one.
-- grain: one unbroken state of a machine
-- key: machine, started_at_utc
-- reads: core_machine_moments, core_settings
-- renewed: by machine
with
moments as (select * from core_machine_moments),
settings as (select * from core_settings),
spoken as (
    select
        machine,
        state,
        at_utc as started_at_utc,
        case
            when logs_alive and (next_at_utc is null or next_at_utc > heard_until_utc + silence_time)
            then heard_until_utc + silence_time
            else next_at_utc
        end as ended_at_utc
    from moments
    cross join settings
),
silent as (
    select machine, 'silent' as state, heard_until_utc + silence_time as started_at_utc, next_at_utc as ended_at_utc
    from moments
    cross join settings
    where logs_alive and (next_at_utc is null or next_at_utc > heard_until_utc + silence_time)
),
lasting as (
    select machine, state, started_at_utc, ended_at_utc
    from (select * from spoken union all select * from silent) as both_kinds
    where ended_at_utc is null or ended_at_utc > started_at_utc
),
changes as (
    select
        *,
        case
            when state = lag(state) over (partition by machine order by started_at_utc) then 0 else 1
        end as is_change
    from lasting
),
numbered as (
    select
        *,
        sum(is_change) over (
            partition by machine order by started_at_utc rows between unbounded preceding and current row
        ) as state_no
    from changes
),
states as (
    select
        machine,
        state,
        min(started_at_utc) as started_at_utc,
        case when max(case when ended_at_utc is null then 1 else 0 end) = 0 then max(ended_at_utc) end as ended_at_utc
    from numbered
    group by machine, state_no, state
)
select * from states
