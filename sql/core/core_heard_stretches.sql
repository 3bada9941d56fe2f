-- The lines of each machine, put together by stretches as long as the shortest wait that counts (the lead, the carry or
-- the silence, whichever is least), so that not every line has to be put in order.
-- grain: one stretch in which a machine has a line
-- key: machine, first_at_utc
-- reads: core_events, site_settings
-- stored: as a view
with
events as (select * from core_events),
settings as (
    select greatest(1, cast(round(least(lead_s, carry_s, silence_s) * 1000000) as bigint)) as stretch_us
    from site_settings
),
placed as (
    select
        e.machine,
        e.at_utc,
        e.event,
        abs(date_diff('microsecond', e.stamped_at_utc, e.at_utc)) as corrected_us,
        date_diff('microsecond', timestamp '0001-01-01', e.at_utc) % s.stretch_us as into_stretch_us,
        date_diff('microsecond', timestamp '0001-01-01', e.at_utc) as at_us
    from events as e
    cross join settings as s
),
stretches as (
    select
        machine,
        min(at_utc) as first_at_utc,
        max(at_utc) as last_at_utc,
        cast(count(*) as bigint) as lines_count,
        cast(sum(case when event = 'alive' then 1 else 0 end) as bigint) as alive_count,
        max(corrected_us) as most_corrected_us
    from placed
    group by machine, at_us - into_stretch_us
)
select * from stretches
