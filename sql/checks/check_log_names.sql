-- Whether the logs and the bookings speak of the same machines: found where at least 20 log lines and 20 air or protect
-- bookings have not one machine in common.
-- grain: one site
-- key: what
-- reads: core_heard_spans, clean_bookings
with
logged as (select machine, sum(lines_count) as lines_count from core_heard_spans group by machine),
booked as (
    select machine, count(*) as bookings_count
    from clean_bookings
    where role in ('air', 'protect')
    group by machine
),
lines_counted as (select sum(lines_count) as lines_count, min(machine) as machine from logged),
bookings_counted as (select sum(bookings_count) as bookings_count, min(machine) as machine from booked),
shared as (select count(*) as shared_count from logged as l inner join booked as b on l.machine = b.machine),
findings as (
    select
        'events' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        'no machine is both logged and booked: the logs name "' || l.machine || '", the bookings "' || b.machine
        || '"' as what
    from lines_counted as l
    cross join bookings_counted as b
    cross join shared as s
    where l.lines_count >= 20 and b.bookings_count >= 20 and s.shared_count = 0
)
select * from findings
