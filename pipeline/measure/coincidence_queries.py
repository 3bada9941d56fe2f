"""The selects behind coincidences: when machines ran well, when a fault began, which were of one transmission."""

from __future__ import annotations

# A machine runs well while its log proves it good, and is believed no longer than its carry (or its silence).
RUNNING = """
select
    m.machine,
    m.at_utc as started_at_utc,
    least(
        coalesce(m.next_at_utc, a.as_of_at_utc), a.as_of_at_utc,
        m.heard_until_utc + case when m.logs_alive then s.silence_time else s.carry_time end
    ) as ended_at_utc
from core_machine_moments as m
cross join core_settings as s
cross join core_as_of as a
where m.state = 'good'
order by m.machine, m.at_utc
"""
# A fault began: good was lost while the machine rolled, on air or not; or an event on air began that no such loss
# explains, at its alarm or else at its own start. A stop of a machine that does not feed is mostly somebody's hand.
ONSETS = """
with
lasting as (
    select
        machine, at_utc, event_no, event, state, is_rolling,
        lag(state) over (partition by machine order by moment_no) as state_before
    from core_machine_moments
    where next_at_utc is null or next_at_utc > at_utc
),
losses as (
    select l.machine, l.at_utc, e.within_s, replace(l.event, '_', ' ') as what
    from lasting as l
    inner join core_words as e on l.event_no = e.event_no
    where l.state = 'not good' and l.is_rolling and l.state_before = 'good'
),
alarms as (
    select k.machine, k.started_at_utc as at_utc, max(e.within_s) as within_s
    from core_alarms as k
    inner join core_words as e on k.event_no = e.event_no
    group by k.machine, k.started_at_utc
),
placed as (
    select
        r.recovery_no,
        r.machine,
        r.channel,
        case
            when l.machine is not null or k.machine is not null then r.onset_at_utc
            else r.started_at_utc
        end as at_utc,
        coalesce(l.within_s, k.within_s) as within_s,
        coalesce(
            l.what,
            case when k.machine is not null then 'alarm' end,
            case when r.interruption_no is not null then 'interruption' else s.kind || ' switch' end
        ) as what
    from core_recoveries as r
    left join core_interruptions as i on r.interruption_no = i.interruption_no
    left join core_switches as s on r.switch_no = s.switch_no
    left join losses as l on r.machine = l.machine and r.onset_at_utc = l.at_utc
    left join alarms as k on r.machine = k.machine and r.onset_at_utc = k.at_utc
    where r.machine is not null and (r.interruption_no is null or i.machine is not null)
),
events as (
    select * from placed
    qualify row_number() over (partition by machine, at_utc order by recovery_no) = 1
),
onsets as (
    select
        coalesce(e.machine, l.machine) as machine,
        coalesce(e.at_utc, l.at_utc) as at_utc,
        coalesce(l.within_s, e.within_s) as within_s,
        coalesce(l.what, e.what) as what,
        e.recovery_no,
        e.channel
    from events as e
    full outer join losses as l on e.machine = l.machine and e.at_utc = l.at_utc
)
select o.*, n.incident, b.reel
from onsets as o
left join core_incident_recoveries as n on o.recovery_no = n.recovery_no
left join clean_bookings as b
    on o.machine = b.machine
    and b.role in ('air', 'protect')
    and b.started_at_utc <= o.at_utc
    and b.ended_at_utc > o.at_utc
qualify row_number() over (
    partition by o.machine, o.at_utc order by b.started_at_utc desc nulls last, b.booking desc
) = 1
order by o.at_utc, o.machine
"""
TOGETHER = """
select
    a.machine,
    b.machine as other,
    greatest(a.started_at_utc, b.started_at_utc) as started_at_utc,
    least(a.ended_at_utc, b.ended_at_utc) as ended_at_utc
from core_members as a
inner join core_members as b
    on a.channel = b.channel
    and a.transmission = b.transmission
    and a.machine < b.machine
    and a.started_at_utc < b.ended_at_utc
    and b.started_at_utc < a.ended_at_utc
order by a.machine, other, started_at_utc
"""
