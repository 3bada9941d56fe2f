-- Machines and times whose clock could not be held against the house clock: fewer than five pairs to go by.
-- grain: one stretch of a machine's clock between resets
-- key: what
-- reads: core_heard_spans, raw_clock_segments
with
machines as (select distinct machine from core_heard_spans),
segments as (select * from raw_clock_segments),
findings as (
    select
        'events' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        m.machine || ', clock stretch ' || coalesce(s.segment_no, 1) || ': ' || coalesce(s.pairs_count, 0)
        || ' pairs, so its stamps stand as logged' as what
    from machines as m
    left join segments as s on m.machine = s.machine
    where coalesce(s.pairs_count, 0) < 5
)
select * from findings
