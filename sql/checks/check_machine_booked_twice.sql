-- Bookings of one machine that overlap an earlier one: for another transmission, in the same role, or as air and
-- protect of one transmission, where it would stand behind itself. Found by the days both touch.
-- grain: one pair of bookings, at the later one's row
-- key: file, line, what
-- reads: clean_bookings
with
bookings as (select * from clean_bookings),
touched as (
    select
        booking, machine, transmission, role, started_at_utc, ended_at_utc, file, line,
        unnest(generate_series(
            date_trunc('day', started_at_utc), date_trunc('day', ended_at_utc), interval '1 day'
        )) as day_utc
    from bookings
),
pairs as (
    select distinct
        b.file,
        b.line,
        b.booking,
        b.machine,
        b.role,
        a.booking as other_booking,
        a.role as other_role
    from touched as a
    inner join touched as b
        on a.machine = b.machine
        and a.day_utc = b.day_utc
        and a.started_at_utc < b.ended_at_utc
        and b.started_at_utc < a.ended_at_utc
        and (a.started_at_utc < b.started_at_utc or a.started_at_utc = b.started_at_utc and a.booking < b.booking)
    where a.transmission is distinct from b.transmission
        or a.role = b.role
        or (a.role in ('air', 'protect') and b.role in ('air', 'protect'))
),
findings as (
    select
        'bookings' as feed,
        file,
        line,
        machine || ' is booked twice at once: "' || other_booking || '" (' || other_role || ') and "'
        || booking || '" (' || role || ')' as what
    from pairs
)
select * from findings
