-- Machine clocks that are off by whole or half hours: more likely a wrong zone or summer time than a wrong clock.
-- grain: one stretch of a machine's clock between resets
-- key: what
-- reads: raw_clock_segments
with
segments as (select *, round(offset_s / 1800) as half_hours from raw_clock_segments where pairs_count > 0),
near as (
    select *
    from segments
    where half_hours <> 0 and abs(half_hours) <= 28 and abs(offset_s - half_hours * 1800) <= greatest(within_s, 30)
),
findings as (
    select
        'events' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        machine || ', clock stretch ' || segment_no || ': ' || cast(cast(abs(half_hours) / 2 as decimal(18, 1)) as varchar)
        || ' h ' || case when offset_s < 0 then 'behind' else 'ahead of' end
        || ' the house clock; is the timezone of its files right?' as what
    from near
)
select * from findings
