-- When a booking makes a machine count for a transmission: its own times and the lead before them.
-- grain: one air or protect booking
-- key: booking
-- reads: clean_bookings, core_settings
with
bookings as (select * from clean_bookings where role in ('air', 'protect')),
settings as (select * from core_settings),
spans as (
    select
        b.booking,
        b.channel,
        b.transmission,
        b.machine,
        b.role,
        b.started_at_utc - s.lead_time as started_at_utc,
        b.ended_at_utc
    from bookings as b
    cross join settings as s
)
select * from spans
