-- Seconds beside air time: rescued by another source, and fed on past the end of a window; split where a month ends.
-- grain: month, channel, machine left or overrunning
-- key: month, channel, machine
-- reads: core_rescues, core_overruns, site_months
with
spans as (
    select channel, machine, started_at_utc, ended_at_utc, 1 as is_rescue from core_rescues
    union all
    select channel, machine, started_at_utc, ended_at_utc, 0 from core_overruns
),
months as (select * from site_months),
split as (
    select
        m.month,
        s.channel,
        s.machine,
        s.is_rescue,
        date_diff(
            'microsecond',
            greatest(s.started_at_utc, m.started_at_utc),
            least(s.ended_at_utc, m.ended_at_utc)
        ) * 0.000001 as beside_s
    from spans as s
    inner join months as m on s.started_at_utc < m.ended_at_utc and s.ended_at_utc > m.started_at_utc
),
summed as (
    select
        month,
        channel,
        machine,
        sum(case when is_rescue = 1 then beside_s else 0 end) as rescued_s,
        sum(case when is_rescue = 0 then beside_s else 0 end) as overrun_s
    from split
    group by month, channel, machine
)
select * from summed
