-- What each word of a machine leaves it in; and `alive` where nothing else is said at the first or last line of a span
-- in which the machine was heard. A roll starts afresh (a new run) unless the machine is rolling already and was heard
-- from within the carry; a stop ends the run. Before the first roll or stop only loss is proved, never good. Heard
-- until: up to the next moment, or no further than this one where a wait follows that counts. What only reads a meter
-- or a clock is no word here.
-- grain: one word, or one edge of a span of lines
-- key: machine, moment_no
-- reads: core_word_rows, core_heard_spans, core_machine_habits, core_settings
-- renewed: by machine
with
words as (select event_no, machine, at_utc, event from core_word_rows where event not in ('hours', 'clock')),
spans as (select * from core_heard_spans),
settings as (select * from core_settings),
habits as (select * from core_machine_habits),
edges as (
    select machine, first_at_utc as at_utc from spans
    union
    select machine, last_at_utc from spans
),
said as (
    select machine, at_utc, event_no, event from words
    union all
    select e.machine, e.at_utc, null, 'alive'
    from edges as e
    where not exists (select 1 from words as w where w.machine = e.machine and w.at_utc = e.at_utc)
),
numbered as (
    select
        s.*,
        row_number() over (partition by s.machine order by s.at_utc, s.event_no) as moment_no,
        h.first_at_utc as span_began_at_utc
    from said as s
    left join spans as h on s.machine = h.machine and s.at_utc = h.first_at_utc
),
within_spans as (
    select
        n.moment_no,
        n.event_no,
        n.machine,
        n.at_utc,
        n.event,
        a.logs_lock,
        a.logs_alive,
        max(n.span_began_at_utc) over so_far as span_at_utc,
        last_value(case when n.event in ('roll', 'stop') then n.event end ignore nulls) over (
            partition by n.machine order by n.moment_no rows between unbounded preceding and 1 preceding
        ) as last_motion
    from numbered as n
    inner join habits as a on n.machine = a.machine
    window so_far as (partition by n.machine order by n.moment_no rows between unbounded preceding and current row)
),
heard as (
    select
        *,
        lag(at_utc) over (partition by machine order by moment_no) as heard_at_utc,
        lag(span_at_utc) over (partition by machine order by moment_no) as heard_span_at_utc
    from within_spans
),
runs as (
    select
        h.*,
        sum(case
            when h.event = 'stop' then 1
            when h.event <> 'roll' then 0
            when h.last_motion = 'roll'
                and (h.span_at_utc = h.heard_span_at_utc or h.at_utc - h.heard_at_utc <= s.carry_time)
            then 0
            else 1
        end) over (
            partition by h.machine order by h.moment_no rows between unbounded preceding and current row
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
    window run_so_far as (partition by machine, run_no order by moment_no rows between unbounded preceding and current row)
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
        moment_no,
        event_no,
        machine,
        at_utc,
        lead(at_utc) over (partition by machine order by moment_no) as next_at_utc,
        case
            when lead(span_at_utc) over (partition by machine order by moment_no) = span_at_utc
            then lead(at_utc) over (partition by machine order by moment_no)
            else at_utc
        end as heard_until_utc,
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
