-- How long each alarm stayed open: until a clear of the same detail, a clear of no detail, a stop, or the lead (a take
-- just as old as the lead still counts, hence the microsecond).
-- grain: one alarm event
-- key: event_no
-- reads: core_word_rows, core_settings
-- renewed: by machine
with
events as (select * from core_word_rows where event in ('alarm', 'clear', 'stop')),
settings as (select * from core_settings),
endings as (
    select
        *,
        min(case when event = 'stop' or (event = 'clear' and detail is null) then at_utc end) over (
            partition by machine order by event_no rows between 1 following and unbounded following
        ) as all_ended_at_utc,
        min(case when event = 'clear' then at_utc end) over (
            partition by machine, detail order by event_no rows between 1 following and unbounded following
        ) as cleared_at_utc
    from events
),
alarms as (
    select
        e.event_no,
        e.machine,
        e.detail,
        e.at_utc as started_at_utc,
        least(
            e.at_utc + s.lead_time + interval 1 microsecond,
            coalesce(e.all_ended_at_utc, timestamp '9999-12-31'),
            coalesce(e.cleared_at_utc, timestamp '9999-12-31')
        ) as ended_at_utc,
        e.file,
        e.line
    from endings as e
    cross join settings as s
    where e.event = 'alarm'
)
select * from alarms
