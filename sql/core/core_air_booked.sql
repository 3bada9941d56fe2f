-- Which machine is booked for air at each instant of a transmission; of two at once, the later booking.
-- grain: one slice of a transmission's air bookings
-- key: channel, transmission, started_at_utc
-- reads: clean_bookings
with
air as (select * from clean_bookings where role = 'air'),
edges as (
    select channel, transmission, started_at_utc as at_utc from air
    union
    select channel, transmission, ended_at_utc from air
),
slices as (
    select
        channel,
        transmission,
        at_utc as started_at_utc,
        lead(at_utc) over (partition by channel, transmission order by at_utc) as ended_at_utc
    from edges
),
claimed as (
    select
        s.channel,
        s.transmission,
        a.machine,
        s.started_at_utc,
        s.ended_at_utc,
        row_number() over (
            partition by s.channel, s.transmission, s.started_at_utc order by a.started_at_utc desc, a.booking desc
        ) as claim_no
    from slices as s
    inner join air as a
        on s.channel = a.channel
        and s.transmission = a.transmission
        and a.started_at_utc <= s.started_at_utc
        and a.ended_at_utc >= s.ended_at_utc
),
booked as (select * exclude (claim_no) from claimed where claim_no = 1)
select * from booked
