-- The times to recover, one row an event, with the month and machine they count for.
-- grain: one interruption or protect switch
-- key: recovery_no
-- reads: core_recoveries, site_months
with
recoveries as (select * from core_recoveries),
months as (select * from site_months),
placed as (
    select
        r.recovery_no,
        m.month,
        r.channel,
        r.machine,
        r.interruption_no is not null as is_interruption,
        r.onset_at_utc is not null as has_onset,
        r.to_take_s,
        r.is_taken,
        r.to_air_s,
        r.is_back,
        r.to_cover_s,
        r.is_covered_again
    from recoveries as r
    inner join months as m on r.started_at_utc >= m.started_at_utc and r.started_at_utc < m.ended_at_utc
)
select * from placed
