-- Offsets between two machines of more than five seconds.
-- grain: one offset event
-- key: file, line
-- reads: core_offsets
with
offsets as (select * from core_offsets),
findings as (
    select
        'events' as feed,
        file,
        line,
        machine || ' logs an offset of ' || cast(offset_s as varchar) || ' s' as what
    from offsets
    where abs(offset_s) > 5
)
select * from findings
