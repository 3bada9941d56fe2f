-- The site's thresholds as spans of time, ready to add to an instant.
-- grain: one site
-- key: name
-- reads: site_settings
with
settings as (select * from site_settings),
spans as (
    select
        name,
        sync_tolerance_s,
        to_microseconds(cast(round(lead_s * 1000000) as bigint)) as lead_time,
        to_microseconds(cast(round(carry_s * 1000000) as bigint)) as carry_time,
        to_microseconds(cast(round(silence_s * 1000000) as bigint)) as silence_time,
        to_microseconds(cast(round(tail_s * 1000000) as bigint)) as tail_time,
        to_microseconds(cast(round(merge_gap_s * 1000000) as bigint)) as merge_gap_time,
        to_microseconds(cast(round(incident_gap_s * 1000000) as bigint)) as incident_gap_time,
        to_microseconds(cast(round(ticket_window_h * 3600000000) as bigint)) as ticket_window_time
    from settings
)
select * from spans
