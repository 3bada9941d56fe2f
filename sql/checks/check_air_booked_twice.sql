-- Transmissions with two machines booked for air at once, for longer than the lead.
-- grain: one pair of air bookings, at the later one's row
-- key: file, line, what
-- reads: clean_bookings, core_settings
with
air as (select * from clean_bookings where role = 'air'),
settings as (select * from core_settings),
pairs as (
    select
        b.file,
        b.line,
        b.channel,
        b.transmission,
        a.machine as first_machine,
        b.machine as second_machine,
        greatest(a.started_at_utc, b.started_at_utc) as started_at_utc,
        least(a.ended_at_utc, b.ended_at_utc) as ended_at_utc
    from air as a
    inner join air as b
        on a.channel = b.channel
        and a.transmission = b.transmission
        and a.machine <> b.machine
        and (a.started_at_utc < b.started_at_utc or a.started_at_utc = b.started_at_utc and a.booking < b.booking)
),
overlapping as (
    select p.*
    from pairs as p
    cross join settings as s
    where p.ended_at_utc - p.started_at_utc > s.lead_time
),
findings as (
    select
        'bookings' as feed,
        file,
        line,
        transmission || ' on ' || channel || ' has two machines booked for air, "' || first_machine || '" and "'
        || second_machine || '", from ' || cast(started_at_utc as varchar) || ' to '
        || cast(ended_at_utc as varchar) || ' UTC' as what
    from overlapping
)
select * from findings
