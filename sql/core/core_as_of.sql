-- Until when the data go: the latest kept stamp in events or switches.
-- grain: one site
-- key: as_of_at_utc
-- reads: core_heard_spans, clean_switches
with
stamps as (
    select max(last_at_utc) as at_utc from core_heard_spans
    union all
    select max(at_utc) from clean_switches
),
latest as (select max(at_utc) as as_of_at_utc from stamps)
select * from latest
