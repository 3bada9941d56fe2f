-- What each machine was used for, split where a month ends. `air_s` is all air time it fed, as in metric_air;
-- `rolling_…_s` are seconds with its heads on tape, by duty, and add up to `head_s`. A start counts where its run begins.
-- Protect here is rolling behind a transmission on air, good or not; metric_protect counts only standing good and in step.
-- grain: month, machine
-- key: month, machine
-- reads: core_duty_spans, core_rolling_spans, core_air_spans, site_months
with
months as (select * from site_months),
spans as (
    select machine, duty, started_at_utc, ended_at_utc from core_duty_spans
    union all
    select machine, 'head', started_at_utc, ended_at_utc from core_rolling_spans
    union all
    select feed, 'fed', started_at_utc, ended_at_utc from core_air_spans where feed <> 'standby'
),
split as (
    select
        m.month,
        s.machine,
        s.duty,
        date_diff(
            'microsecond',
            greatest(s.started_at_utc, m.started_at_utc),
            least(s.ended_at_utc, m.ended_at_utc)
        ) * 0.000001 as spent_s,
        0 as starts_count
    from spans as s
    inner join months as m on s.started_at_utc < m.ended_at_utc and s.ended_at_utc > m.started_at_utc
),
starts as (
    select m.month, r.machine, 'start' as duty, 0 as spent_s, 1 as starts_count
    from core_rolling_spans as r
    inner join months as m on r.started_at_utc >= m.started_at_utc and r.started_at_utc < m.ended_at_utc
    where r.is_start
),
summed as (
    select
        month,
        machine,
        sum(case when duty = 'fed' then spent_s else 0 end) as air_s,
        sum(case when duty = 'air' then spent_s else 0 end) as rolling_air_s,
        sum(case when duty = 'protect' then spent_s else 0 end) as rolling_protect_s,
        sum(case when duty = 'record' then spent_s else 0 end) as rolling_record_s,
        sum(case when duty = 'other' then spent_s else 0 end) as rolling_other_s,
        sum(case when duty = 'head' then spent_s else 0 end) as head_s,
        cast(sum(starts_count) as bigint) as starts_count
    from (select * from split union all select * from starts) as both_kinds
    group by month, machine
)
select * from summed
