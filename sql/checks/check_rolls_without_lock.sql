-- Runs of ten seconds or more that never locked, of machines that do log lock. A run still open is left out.
-- grain: one run, at the row of its roll
-- key: file, line
-- reads: core_machine_moments, core_words
with
moments as (select * from core_machine_moments),
locking as (select distinct machine from moments where event = 'lock'),
runs as (
    select
        machine,
        run_no,
        min(event_no) as event_no,
        min(at_utc) as started_at_utc,
        max(next_at_utc) as ended_at_utc,
        max(case when is_rolling_locked then 1 else 0 end) as has_locked,
        max(case when next_at_utc is null then 1 else 0 end) as is_open
    from moments
    where is_rolling
    group by machine, run_no
),
unlocked as (
    select r.*
    from runs as r
    inner join locking as l on r.machine = l.machine
    where r.has_locked = 0 and r.is_open = 0 and r.ended_at_utc >= r.started_at_utc + interval '10 seconds'
),
findings as (
    select
        'events' as feed,
        e.file,
        e.line,
        u.machine || ' rolls at ' || cast(u.started_at_utc as varchar) || ' UTC and does not log lock before '
        || cast(u.ended_at_utc as varchar) as what
    from unlocked as u
    inner join core_words as e on u.event_no = e.event_no
)
select * from findings
