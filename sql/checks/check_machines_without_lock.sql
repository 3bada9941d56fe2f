-- Machines that roll and have never logged lock: they count as locked while they roll.
-- grain: one machine
-- key: what
-- reads: core_words
with
events as (select * from core_words where event in ('roll', 'lock')),
habits as (
    select
        machine,
        max(case when event = 'lock' then 1 else 0 end) as has_lock,
        max(case when event = 'roll' then 1 else 0 end) as has_roll
    from events
    group by machine
),
findings as (
    select
        'events' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        machine || ' never logs lock and counts as locked while it rolls' as what
    from habits
    where has_lock = 0 and has_roll = 1
)
select * from findings
