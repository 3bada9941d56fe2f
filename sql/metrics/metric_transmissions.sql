-- Each transmission's air seconds by state and its counts.
-- grain: one transmission on a channel
-- key: channel, transmission
-- reads: core_air_spans, core_interruptions, core_switches
with
spans as (
    select
        channel, transmission, state, started_at_utc, ended_at_utc,
        date_diff('microsecond', started_at_utc, ended_at_utc) * 0.000001 as air_s
    from core_air_spans
),
seconds as (
    select
        channel,
        transmission,
        min(started_at_utc) as started_at_utc,
        max(ended_at_utc) as ended_at_utc,
        sum(air_s) as air_s,
        sum(case when state = 'lost' then air_s else 0 end) as lost_s,
        sum(case when state = 'unknown' then air_s else 0 end) as unknown_s,
        sum(case when state = 'covered' then air_s else 0 end) as covered_s,
        sum(case when state = 'unproved' then air_s else 0 end) as unproved_s,
        sum(case when state = 'exposed' then air_s else 0 end) as exposed_s
    from spans
    group by channel, transmission
),
interruptions as (
    select channel, transmission, count(*) as interruptions_count from core_interruptions group by channel, transmission
),
switches as (
    select channel, transmission, count(*) filter (where is_protect) as protect_switches_count
    from core_switches
    group by channel, transmission
),
transmissions as (
    select
        s.*,
        coalesce(i.interruptions_count, 0) as interruptions_count,
        coalesce(w.protect_switches_count, 0) as protect_switches_count
    from seconds as s
    left join interruptions as i on s.channel = i.channel and s.transmission = i.transmission
    left join switches as w on s.channel = w.channel and s.transmission = w.transmission
)
select * from transmissions
