-- What each ruling fits: how many switches, events of an incident, or pieces of air time, or else why it fits nothing.
-- What a ruling on a cause says is not yet read here.
-- grain: one ruling
-- key: ruling
-- reads: clean_rulings, core_switch_rulings, core_cause_rulings, core_incident_rulings, core_not_air, core_pieces
with
rulings as (select *, coalesce(' on ' || channel, '') as on_channel from clean_rulings),
switches as (
    select ruling, case when why_not is null then 1 else 0 end as fits_count, why_not from core_switch_rulings
),
causes as (select ruling, recoveries_count as fits_count, why_not from core_cause_rulings),
joined as (select ruling, sum(events_count) as fits_count from core_incident_rulings group by ruling),
incidents as (
    select
        r.ruling,
        coalesce(j.fits_count, 0) as fits_count,
        case
            when r.until_utc is null or r.until_utc <= r.at_utc then 'its until is missing or not after its at'
            when j.ruling is null then 'no event begins then' || r.on_channel
            when j.fits_count = 1 then 'only one event begins then' || r.on_channel || ', and nothing can be joined'
        end as why_not
    from rulings as r
    left join joined as j on r.ruling = j.ruling
    where r.rules = 'one incident'
),
pieces as (
    select n.ruling, count(*) as fits_count
    from core_not_air as n
    inner join core_pieces as p
        on n.channel = p.channel and n.started_at_utc < p.ended_at_utc and n.ended_at_utc > p.started_at_utc
    group by n.ruling
),
not_air as (
    select
        r.ruling,
        coalesce(p.fits_count, 0) as fits_count,
        case
            when r.channel is null then 'it names no channel'
            when r.until_utc is null or r.until_utc <= r.at_utc then 'its until is missing or not after its at'
            when n.ruling is null then 'other rulings take all of that time out already'
            when p.ruling is null then 'no air time' || r.on_channel || ' is booked then and reached by the data'
        end as why_not
    from rulings as r
    left join core_not_air as n on r.ruling = n.ruling
    left join pieces as p on r.ruling = p.ruling
    where r.rules = 'not air'
),
together as (
    select * from switches
    union all select * from causes
    union all select * from incidents
    union all select * from not_air
),
judged as (
    select ruling, cast(case when why_not is null then fits_count else 0 end as bigint) as fits_count, why_not
    from together
)
select * from judged
