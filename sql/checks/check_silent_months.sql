-- Months with air booked and not one row of the logs, or not one of the selector. Rows are first put
-- together by the hour.
-- grain: one feed in one month
-- key: feed, what
-- reads: core_events, clean_switches, clean_bookings, site_months, core_as_of
with
booked as (
    select distinct m.month, m.started_at_utc, m.ended_at_utc
    from site_months as m
    cross join core_as_of as a
    inner join clean_bookings as b
        on b.role = 'air'
        and b.started_at_utc < m.ended_at_utc
        and b.ended_at_utc > m.started_at_utc
        and b.started_at_utc < a.as_of_at_utc
),
hours as (
    select
        'events' as feed,
        min(at_utc) as first_at_utc,
        max(at_utc) as last_at_utc
    from core_events
    group by date_trunc('hour', at_utc)
    union all
    select 'switches', min(at_utc), max(at_utc)
    from clean_switches
    group by date_trunc('hour', at_utc)
),
wanted as (select m.*, f.feed from booked as m cross join (select unnest(['events', 'switches']) as feed) as f),
silent as (
    select w.*
    from wanted as w
    where not exists (
        select 1
        from hours as h
        where h.feed = w.feed and h.first_at_utc < w.ended_at_utc and h.last_at_utc >= w.started_at_utc
    )
),
findings as (
    select
        feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        month || ' has air booked and no row of ' || feed as what
    from silent
)
select * from findings
