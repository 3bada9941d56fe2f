-- Machines and times whose stamps were moved, because their clock differed from the house clock.
-- grain: one stretch of a machine's clock between resets
-- key: what
-- reads: raw_clock_segments
with
segments as (select * from raw_clock_segments where is_corrected),
findings as (
    select
        'events' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        machine || ', clock stretch ' || segment_no || ': '
        || cast(cast(abs(offset_s) as decimal(18, 3)) as varchar) || ' s '
        || case when offset_s < 0 then 'behind' else 'ahead of' end || ' the house clock, within '
        || cast(cast(within_s as decimal(18, 3)) as varchar) || ' s by ' || pairs_count
        || ' pairs; its stamps are corrected' as what
    from segments
)
select * from findings
