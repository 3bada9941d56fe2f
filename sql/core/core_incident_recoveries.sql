-- Which recoveries and rescues make one incident: those that the rules link, and what a person ruled to be one. Incidents
-- ruled to be one go by the name of the first of them; `joined_by` is the ruling that joined them, of several the last.
-- grain: one recovery or rescue
-- key: event_key
-- reads: core_found_incidents, core_incident_rulings, clean_rulings
with recursive
events as (select * from core_found_incidents),
held as (
    select
        h.ruling,
        h.incident,
        r.decided_at_utc,
        r.file,
        r.line,
        min(h.incident) over (partition by h.ruling) as first_incident,
        count(*) over (partition by h.ruling) as incidents_count
    from core_incident_rulings as h
    inner join clean_rulings as r on h.ruling = r.ruling
),
links as (
    select incident, first_incident from held where incidents_count > 1
    union
    select first_incident, incident from held where incidents_count > 1
),
joined(incident, first_incident) using key (incident) as (
    select distinct incident, incident from links
    union
    (
        select l.first_incident, min(j.first_incident)
        from joined as j
        inner join links as l on j.incident = l.incident
        inner join recurring.joined as k on l.first_incident = k.incident
        where j.first_incident < k.first_incident
        group by l.first_incident
    )
),
joiners as (
    select
        incident,
        ruling,
        row_number() over (partition by incident order by decided_at_utc desc nulls last, file desc, line desc) as nth
    from held
    where incidents_count > 1
),
named as (
    select
        coalesce(j.first_incident, e.incident) as incident,
        e.* exclude (incident),
        e.incident as found_incident,
        b.ruling as joined_by
    from events as e
    left join joined as j on e.incident = j.incident
    left join joiners as b on e.incident = b.incident and b.nth = 1
)
select * from named
