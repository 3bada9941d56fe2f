-- Air counted twice: spans on a channel that begin before an earlier one has ended.
-- grain: one span
-- key: what
-- reads: core_air_spans
with
spans as (select * from core_air_spans),
reached as (
    select
        *,
        max(ended_at_utc) over (
            partition by channel order by started_at_utc, ended_at_utc
            rows between unbounded preceding and 1 preceding
        ) as reached_at_utc
    from spans
),
findings as (
    select
        cast(null as varchar) as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        'the ' || state || ' span on ' || channel || ' from ' || cast(started_at_utc as varchar)
        || ' UTC begins before another has ended' as what
    from reached
    where started_at_utc < reached_at_utc
)
select * from findings
