-- Which incident each ruling on a cause is about: the one with an event on its channel that holds its time, or lies
-- nearest to it and at most two seconds away. What it says is read where the causes are read. One that is about an
-- incident has no `why_not`.
-- grain: one ruling on a cause
-- key: ruling
-- reads: clean_rulings, core_incident_recoveries
with
rulings as (select * from clean_rulings where rules = 'cause'),
events as (select * from core_incident_recoveries),
near as (
    select
        r.ruling,
        e.incident,
        min(greatest(
            date_diff('microsecond', r.at_utc, e.started_at_utc), date_diff('microsecond', e.ended_at_utc, r.at_utc), 0
        )) as away_us
    from rulings as r
    inner join events as e
        on r.channel = e.channel
        and r.at_utc >= e.started_at_utc - interval 2 second
        and r.at_utc <= e.ended_at_utc + interval 2 second
    group by r.ruling, e.incident
),
ranked as (select *, rank() over (partition by ruling order by away_us) as nearness from near),
nearest as (
    select ruling, min(incident) as incident, count(*) as near_count from ranked where nearness = 1 group by ruling
),
caused as (select incident, count(recovery_no) as recoveries_count from events group by incident),
judged as (
    select
        r.ruling,
        n.incident,
        coalesce(c.recoveries_count, 0) as recoveries_count,
        case
            when r.channel is null then 'it names no channel'
            when n.ruling is null then 'no event on ' || r.channel || ' lies within 2 s of that time'
            when n.near_count > 1 then n.near_count || ' incidents on ' || r.channel || ' are equally near to that time'
            when c.recoveries_count = 0 then 'the incident is a rescue alone, and has no cause'
        end as why_not
    from rulings as r
    left join nearest as n on r.ruling = n.ruling
    left join caused as c on n.incident = c.incident
),
placed as (
    select
        ruling,
        case when why_not is null then incident end as incident,
        case when why_not is null then recoveries_count else 0 end as recoveries_count,
        why_not
    from judged
)
select * from placed
