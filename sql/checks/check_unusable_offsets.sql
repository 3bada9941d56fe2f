-- Offsets that prove nothing, because they have no value or no partner.
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
        machine || ' logs an offset '
        || case when offset_s is null then 'without a value' else 'to no known partner' end
        || ' at ' || cast(at_utc as varchar) || ' UTC' as what
    from offsets
    where offset_s is null or partner is null
)
select * from findings
