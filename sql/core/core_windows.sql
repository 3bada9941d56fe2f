-- Air windows as booked: each unbroken stretch of a transmission's air bookings on a channel.
-- grain: one stretch
-- key: channel, transmission, started_at_utc
-- reads: clean_bookings
with
air as (select * from clean_bookings where role = 'air'),
reached as (
    select
        channel,
        transmission,
        booking,
        started_at_utc,
        ended_at_utc,
        max(ended_at_utc) over (
            partition by channel, transmission order by started_at_utc, ended_at_utc, booking
            rows between unbounded preceding and 1 preceding
        ) as reached_at_utc
    from air
),
stretches as (
    select
        *,
        sum(case when reached_at_utc is null or started_at_utc > reached_at_utc then 1 else 0 end) over (
            partition by channel, transmission order by started_at_utc, ended_at_utc, booking
            rows between unbounded preceding and current row
        ) as stretch_no
    from reached
),
windows as (
    select channel, transmission, min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc
    from stretches
    group by channel, transmission, stretch_no
)
select * from windows
