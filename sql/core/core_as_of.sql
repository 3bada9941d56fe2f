-- Until when the data go: the latest kept stamp in events or switches.
-- grain: one site
-- key: as_of_at_utc
-- reads: core_events, clean_switches
with
stamps as (
    select max(at_utc) as at_utc from core_events
    union all
    select max(at_utc) from clean_switches
),
latest as (select max(at_utc) as as_of_at_utc from stamps)
select * from latest
