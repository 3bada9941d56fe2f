-- Counts of interruptions, switches by kind and demands, each once, in the month and on the machine it began.
-- grain: month, channel, machine (null where standby fed)
-- key: month, channel, machine
-- reads: core_interruptions, core_switches, core_demands, site_months
with
months as (select * from site_months),
events as (
    select channel, machine, started_at_utc as at_utc, 'interruption' as what, cast(null as boolean) as is_met, cast(null as boolean) as is_healed, cast(null as boolean) as is_unprotected
    from core_interruptions
    union all
    select channel, from_machine, at_utc, kind, null, null, null from core_switches
    union all
    select channel, machine, at_utc, 'demand', is_met, is_healed, is_unprotected from core_demands
),
placed as (
    select m.month, e.*
    from events as e
    inner join months as m on e.at_utc >= m.started_at_utc and e.at_utc < m.ended_at_utc
),
counted as (
    select
        month,
        channel,
        machine,
        count(*) filter (where what = 'interruption') as interruptions_count,
        count(*) filter (where what = 'forced') as forced_count,
        count(*) filter (where what = 'precaution') as precaution_count,
        count(*) filter (where what = 'unexplained') as unexplained_count,
        count(*) filter (where what = 'planned') as planned_count,
        count(*) filter (where what = 'return') as return_count,
        count(*) filter (where what = 'demand') as demands_count,
        count(*) filter (where what = 'demand' and is_met) as demands_met_count,
        count(*) filter (where what = 'demand' and is_healed) as demands_healed_count,
        count(*) filter (where what = 'demand' and is_unprotected) as demands_unprotected_count
    from placed
    group by month, channel, machine
)
select * from counted
