-- Air time of which no log says how it went: a machine fed and its state is not known.
-- grain: one machine that fed a transmission, at the row of the transmission's first air booking
-- key: file, line, what
-- reads: core_air_spans, clean_bookings
with
unknown as (select * from core_air_spans where state = 'unknown'),
summed as (
    select
        channel,
        transmission,
        feed as machine,
        min(started_at_utc) as started_at_utc,
        sum(date_diff('microsecond', started_at_utc, ended_at_utc)) * 0.000001 as unknown_s
    from unknown
    group by channel, transmission, feed
),
first_bookings as (
    select
        channel,
        transmission,
        file,
        line,
        row_number() over (partition by channel, transmission order by started_at_utc, booking) as booking_no
    from clean_bookings
    where role = 'air'
),
findings as (
    select
        'bookings' as feed,
        b.file,
        b.line,
        s.transmission || ' on ' || s.channel || ': ' || cast(cast(s.unknown_s as decimal(18, 3)) as varchar)
        || ' s fed by "' || s.machine || '" are not known, from ' || cast(s.started_at_utc as varchar) || ' UTC' as what
    from summed as s
    left join first_bookings as b
        on s.channel = b.channel and s.transmission = b.transmission and b.booking_no = 1
)
select * from findings
