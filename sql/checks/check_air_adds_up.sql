-- Channels whose air seconds differ between the spans, the months and the transmissions, to the microsecond.
-- grain: one channel
-- key: what
-- reads: core_air_spans, metric_air, metric_transmissions
with
spans as (
    select channel, sum(date_diff('microsecond', started_at_utc, ended_at_utc)) * 0.000001 as air_s
    from core_air_spans
    group by channel
),
months as (select channel, sum(air_s) as air_s from metric_air group by channel),
transmissions as (select channel, sum(air_s) as air_s from metric_transmissions group by channel),
names as (
    select channel from spans
    union
    select channel from months
    union
    select channel from transmissions
),
compared as (
    select
        n.channel,
        coalesce(s.air_s, 0) as spans_s,
        coalesce(m.air_s, 0) as months_s,
        coalesce(t.air_s, 0) as transmissions_s
    from names as n
    left join spans as s on n.channel = s.channel
    left join months as m on n.channel = m.channel
    left join transmissions as t on n.channel = t.channel
),
findings as (
    select
        cast(null as varchar) as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        channel || ': ' || cast(spans_s as varchar) || ' s by spans, ' || cast(months_s as varchar) || ' s by months, '
        || cast(transmissions_s as varchar) || ' s by transmissions' as what
    from compared
    where abs(spans_s - months_s) > 0.0000005 or abs(spans_s - transmissions_s) > 0.0000005
)
select * from findings
