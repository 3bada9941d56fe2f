-- Incidents: what lies close together on a channel or its machines, told as one.
-- grain: one incident
-- key: incident
-- reads: core_incident_recoveries, core_recovery_events, core_interruptions
with
parts as (select * from core_incident_recoveries),
losses as (
    select p.incident, sum(i.lost_s) as lost_s, count(*) as interruptions_count
    from parts as p
    inner join core_recovery_events as e on p.recovery_no = e.recovery_no
    inner join core_interruptions as i on e.interruption_no = i.interruption_no
    group by p.incident
),
machines as (
    select incident, string_agg(distinct machine, ', ' order by machine) as machines
    from (
        select incident, machine from parts where machine is not null
        union
        select incident, to_machine from parts where to_machine is not null
    ) as named
    group by incident
),
incidents as (
    select
        p.incident,
        string_agg(distinct p.channel, ', ' order by p.channel) as channel,
        min(p.started_at_utc) as started_at_utc,
        max(p.ended_at_utc) as ended_at_utc,
        coalesce(any_value(l.lost_s), 0) as lost_s,
        coalesce(any_value(l.interruptions_count), 0) as interruptions_count,
        count(*) as parts_count,
        any_value(m.machines) as machines
    from parts as p
    left join losses as l on p.incident = l.incident
    left join machines as m on p.incident = m.incident
    group by p.incident
)
select * from incidents
