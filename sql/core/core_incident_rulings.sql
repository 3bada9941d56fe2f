-- Which incidents, as the rules find them, a ruling says are one: all with an event that begins from its time until its
-- end, both included, on its channel or, where it names none, on any.
-- grain: one ruling and one incident found
-- key: ruling, incident
-- reads: clean_rulings, core_found_incidents
with
rulings as (select * from clean_rulings where rules = 'one incident' and until_utc > at_utc),
events as (select * from core_found_incidents),
held as (
    select r.ruling, e.incident, count(*) as events_count
    from rulings as r
    inner join events as e
        on e.started_at_utc >= r.at_utc
        and e.started_at_utc <= r.until_utc
        and (r.channel is null or r.channel = e.channel)
    group by r.ruling, e.incident
)
select * from held
