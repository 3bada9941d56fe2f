-- Stamps more than a year before the first booking or after the last.
-- grain: one event, switch or ticket row
-- key: feed, file, line
-- reads: clean_events, clean_switches, clean_tickets, clean_bookings
with
stamps as (
    select 'events' as feed, file, line, stamped_at_utc as at_utc from clean_events
    union all
    select 'switches', file, line, at_utc from clean_switches
    union all
    select 'tickets', file, line, opened_at_utc from clean_tickets
),
booked as (
    select
        min(started_at_utc) - interval '365 days' as earliest_at_utc,
        max(ended_at_utc) + interval '365 days' as latest_at_utc
    from clean_bookings
),
findings as (
    select
        s.feed,
        s.file,
        s.line,
        cast(s.at_utc as varchar) || ' UTC is more than a year from the nearest booking' as what
    from stamps as s
    cross join booked as b
    where s.at_utc < b.earliest_at_utc or s.at_utc > b.latest_at_utc
)
select * from findings
