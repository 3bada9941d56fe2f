-- Days on which a machine was booked for air or protect and logged nothing. Of each hour
-- the first and the last row are enough to tell: an hour lies in no more than two days.
-- grain: one machine on one day, at the row of its first booking that day
-- key: file, line
-- reads: core_events, clean_bookings, site_days, core_as_of
with
bookings as (
    select b.*
    from clean_bookings as b
    cross join core_as_of as a
    where b.role in ('air', 'protect') and b.started_at_utc < a.as_of_at_utc
),
booked as (
    select
        d.day,
        d.started_at_utc,
        d.ended_at_utc,
        b.machine,
        arg_min(b.file, b.booking) as file,
        arg_min(b.line, b.booking) as line,
        count(*) as bookings_count
    from bookings as b
    inner join site_days as d on b.started_at_utc >= d.started_at_utc and b.started_at_utc < d.ended_at_utc
    group by d.day, d.started_at_utc, d.ended_at_utc, b.machine
),
hours as (
    select machine, min(at_utc) as first_at_utc, max(at_utc) as last_at_utc
    from core_events
    group by machine, date_trunc('hour', at_utc)
),
timeline as (
    select machine, first_at_utc as at_utc, first_at_utc as heard_at_utc, 1 as is_event from hours
    union all
    select machine, last_at_utc, last_at_utc, 1 from hours
    union all
    select machine, ended_at_utc, cast(null as timestamp), 0 from booked
),
looked_back as (
    select
        *,
        max(heard_at_utc) over (
            partition by machine order by at_utc, is_event rows between unbounded preceding and current row
        ) as last_heard_at_utc
    from timeline
),
silent as (
    select b.*
    from booked as b
    inner join looked_back as l on b.machine = l.machine and b.ended_at_utc = l.at_utc and l.is_event = 0
    where l.last_heard_at_utc is null or l.last_heard_at_utc < b.started_at_utc
),
findings as (
    select
        'bookings' as feed,
        file,
        line,
        machine || ' logged nothing on ' || cast(day as varchar) || ', with ' || bookings_count
        || ' air or protect bookings begun' as what
    from silent
)
select * from findings
