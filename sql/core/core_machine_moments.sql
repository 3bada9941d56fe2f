-- What each event leaves its machine in. A roll starts afresh (a new run) unless the machine is rolling already and was
-- heard from within the carry; a stop ends the run. Before the first roll or stop only loss is proved, never good.
-- grain: one event
-- key: event_no
-- reads: core_events, core_settings
with
events as (select * from core_events),
settings as (select * from core_settings),
habits as (
    select
        machine,
        max(case when event = 'lock' then 1 else 0 end) as logs_lock,
        max(case when event = 'alive' then 1 else 0 end) as logs_alive
    from events
    group by machine
),
heard as (
    select
        e.event_no,
        e.machine,
        e.at_utc,
        e.event,
        l.logs_lock = 1 as logs_lock,
        l.logs_alive = 1 as logs_alive,
        lag(e.at_utc) over (partition by e.machine order by e.event_no) as heard_at_utc,
        last_value(case when e.event in ('roll', 'stop') then e.event end ignore nulls) over (
            partition by e.machine order by e.event_no rows between unbounded preceding and 1 preceding
        ) as last_motion
    from events as e
    inner join habits as l on e.machine = l.machine
),
runs as (
    select
        h.*,
        sum(case
            when h.event = 'stop' then 1
            when h.event <> 'roll' then 0
            when h.last_motion = 'roll' and h.at_utc - h.heard_at_utc <= s.carry_time then 0
            else 1
        end) over (
            partition by h.machine order by h.event_no rows between unbounded preceding and current row
        ) as run_no
    from heard as h
    cross join settings as s
),
latest as (
    select
        *,
        first_value(event) over run_so_far as opened_by,
        last_value(case when event in ('lock', 'unlock') then event end ignore nulls) over run_so_far as lock_word,
        last_value(case when event in ('picture_lost', 'picture_back') then event end ignore nulls) over run_so_far as picture_word,
        last_value(case when event in ('sound_lost', 'sound_back') then event end ignore nulls) over run_so_far as sound_word
    from runs
    window run_so_far as (partition by machine, run_no order by event_no rows between unbounded preceding and current row)
),
judged as (
    select
        *,
        run_no > 0 and opened_by = 'roll' as is_rolling,
        coalesce(picture_word = 'picture_lost', false) or coalesce(sound_word = 'sound_lost', false) as is_lost,
        coalesce(lock_word = 'lock', false) or (not logs_lock and coalesce(lock_word <> 'unlock', true)) as is_locked
    from latest
),
moments as (
    select
        event_no,
        machine,
        at_utc,
        lead(at_utc) over (partition by machine order by event_no) as next_at_utc,
        event,
        logs_alive,
        run_no,
        is_rolling,
        is_rolling and is_locked as is_rolling_locked,
        case
            when is_rolling and is_locked and not is_lost then 'good'
            when is_rolling then 'not good'
            when run_no > 0 then 'not good'
            when is_lost or coalesce(lock_word = 'unlock', false) then 'not good'
            else 'not proved'
        end as state
    from judged
)
select * from moments
