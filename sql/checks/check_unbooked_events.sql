-- Lines of a machine in use that lie in none of its bookings, with the lead before and after. Upkeep, meters and the
-- line that only says the log is being written do not count.
-- grain: one event
-- key: file, line
-- reads: core_words, clean_bookings, core_settings
with
events as (
    select *
    from core_words
    where event not in ('clean', 'lineup', 'head_fitted', 'part_fitted', 'hours', 'clock')
),
bookings as (select * from clean_bookings),
settings as (select * from core_settings),
timeline as (
    select machine, at_utc, 1 as is_event, cast(null as timestamp) as until_utc, event, file, line from events
    union all
    select b.machine, b.started_at_utc - s.lead_time, 0, b.ended_at_utc + s.lead_time, null, null, null
    from bookings as b
    cross join settings as s
),
reached as (
    select
        *,
        max(until_utc) over (
            partition by machine order by at_utc, is_event rows between unbounded preceding and current row
        ) as booked_until_utc
    from timeline
),
findings as (
    select
        'events' as feed,
        file,
        line,
        machine || ' logs "' || event || '" at ' || cast(at_utc as varchar) || ' UTC, outside its bookings' as what
    from reached
    where is_event = 1 and (booked_until_utc is null or at_utc >= booked_until_utc)
)
select * from findings
