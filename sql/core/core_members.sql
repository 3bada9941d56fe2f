-- Which machines are of a transmission, and when: by booking (with the lead) or by being named on the channel.
-- grain: one unbroken stretch of membership
-- key: channel, transmission, machine, started_at_utc
-- reads: core_booked_spans, core_named
with
spans as (
    select channel, transmission, machine, started_at_utc, ended_at_utc from core_booked_spans
    union all
    select channel, transmission, machine, at_utc, window_ended_at_utc from core_named
),
reached as (
    select
        *,
        max(ended_at_utc) over (
            partition by channel, transmission, machine order by started_at_utc, ended_at_utc
            rows between unbounded preceding and 1 preceding
        ) as reached_at_utc
    from spans
),
stretches as (
    select
        *,
        sum(case when reached_at_utc is null or started_at_utc > reached_at_utc then 1 else 0 end) over (
            partition by channel, transmission, machine order by started_at_utc, ended_at_utc
            rows between unbounded preceding and current row
        ) as stretch_no
    from reached
),
members as (
    select channel, transmission, machine, min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc
    from stretches
    group by channel, transmission, machine, stretch_no
)
select * from members
