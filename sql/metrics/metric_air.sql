-- Air seconds by state, split where a month ends.
-- grain: month, channel, machine that fed (null for standby)
-- key: month, channel, machine
-- reads: core_air_spans, site_months
with
spans as (select * from core_air_spans),
months as (select * from site_months),
split as (
    select
        m.month,
        s.channel,
        nullif(s.feed, 'standby') as machine,
        s.state,
        s.exposed_why,
        s.is_elsewhere,
        date_diff(
            'microsecond',
            greatest(s.started_at_utc, m.started_at_utc),
            least(s.ended_at_utc, m.ended_at_utc)
        ) * 0.000001 as air_s
    from spans as s
    inner join months as m on s.started_at_utc < m.ended_at_utc and s.ended_at_utc > m.started_at_utc
),
summed as (
    select
        month,
        channel,
        machine,
        sum(air_s) as air_s,
        sum(case when state = 'lost' then air_s else 0 end) as lost_s,
        sum(case when state = 'unknown' then air_s else 0 end) as unknown_s,
        sum(case when state = 'covered' then air_s else 0 end) as covered_s,
        sum(case when state = 'unproved' then air_s else 0 end) as unproved_s,
        sum(case when state = 'exposed' then air_s else 0 end) as exposed_s,
        sum(case when exposed_why = 'none booked' then air_s else 0 end) as exposed_none_booked_s,
        sum(case when exposed_why = 'not good' then air_s else 0 end) as exposed_not_good_s,
        sum(case when exposed_why = 'out of step' then air_s else 0 end) as exposed_out_of_step_s,
        sum(case when is_elsewhere then air_s else 0 end) as elsewhere_s
    from split
    group by month, channel, machine
)
select * from summed
