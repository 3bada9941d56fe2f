"""The selects behind the pages of machines and reels: each is summed once for all, in an order that never changes.

Who recorded a reel is selected only where the site shows persons; elsewhere the number of a pseudonym is, counted by
first appearance in order of reel, as the page on recordings counts.
"""

from __future__ import annotations

from pipeline.render.history_links import NAMED_REELS

MACHINE_MONTHS = """
with
air as (
    select month, machine, sum(air_s) as air_s, sum(lost_s) as lost_s, sum(unknown_s) as unknown_s
    from metric_air where machine is not null group by month, machine
),
protect as (
    select month, machine, sum(protect_s) as protect_s, sum(cover_losses_count) as cover_losses_count
    from metric_protect group by month, machine
),
events as (
    select
        month, machine, sum(interruptions_count) as interruptions_count,
        sum(forced_count + precaution_count + unexplained_count) as switches_count
    from metric_events where machine is not null group by month, machine
),
rolled as (select month, machine, sum(head_s) as head_s from metric_duty group by month, machine),
named as (
    select month, machine from air
    union select month, machine from protect
    union select month, machine from events
    union select month, machine from rolled
)
select
    n.month, n.machine, cast(coalesce(a.air_s, 0) as double) as air_s, cast(coalesce(a.lost_s, 0) as double) as lost_s,
    cast(coalesce(a.unknown_s, 0) as double) as unknown_s, cast(coalesce(p.protect_s, 0) as double) as protect_s,
    cast(coalesce(p.cover_losses_count, 0) as bigint) as cover_losses_count,
    cast(coalesce(e.interruptions_count, 0) as bigint) as interruptions_count,
    cast(coalesce(e.switches_count, 0) as bigint) as switches_count, cast(coalesce(r.head_s, 0) as double) as head_s
from named as n
left join air as a on n.month = a.month and n.machine = a.machine
left join protect as p on n.month = p.month and n.machine = p.machine
left join events as e on n.month = e.month and n.machine = e.machine
left join rolled as r on n.month = r.month and n.machine = r.machine
order by n.machine, n.month
"""
MACHINE_CARE = """
select machine, event, count(*) as cares_count, min(at_utc) as first_at_utc, max(at_utc) as last_at_utc
from core_words where event in ('clean', 'lineup') group by machine, event order by machine, event
"""
# Booked time up to where the data end; what is booked beyond it is counted only.
MACHINE_BOOKINGS = """
select
    b.machine, b.role, count(*) as bookings_count,
    count(*) filter (where b.started_at_utc >= l.as_of_at_utc) as ahead_count,
    sum(
        greatest(0, date_diff('microsecond', b.started_at_utc, least(b.ended_at_utc, l.as_of_at_utc)))
    ) * 0.000001 as booked_s
from clean_bookings as b
cross join core_as_of as l
where b.machine is not null and b.role is not null
group by b.machine, b.role order by b.machine, b.role
"""
MACHINE_PARTS = """
select machine, kind, detail, started_at_utc, ended_at_utc, how, ticket, life_h
from measure_part_lives order by machine, started_at_utc, kind, detail
"""
# Expected is what the page on recordings expects: each machine's own rate in that role over all labelled reels.
REEL_ROWS = f"""
with
{NAMED_REELS},
labels as (
    select
        reel, programme, "show" as show_name, recorded_on, recorded_at_utc, recorded_by,
        min(reel) over (partition by recorded_by) as first_reel
    from clean_reels
),
signed as (
    select
        *, case when recorded_by is not null then dense_rank() over (order by recorded_by is null, first_reel) end
            as recordist_no
    from labels
),
booked as (
    select
        b.reel, count(*) as bookings_count,
        count(*) filter (where b.role in ('air', 'protect') and b.started_at_utc < l.as_of_at_utc) as plays_count,
        max(case when b.role in ('air', 'protect') and b.started_at_utc < l.as_of_at_utc then b.started_at_utc end)
            as last_at_utc,
        arg_min(b.programme, (b.started_at_utc, b.booking)) as booked_programme
    from clean_bookings as b
    cross join core_as_of as l
    group by b.reel
),
seats as (
    select
        machine, role, sum(count) as seat_count, sum(exposure_h order by reel) as seat_h
    from measure_playback where reel is not null and recorder is not null
    group by machine, role
),
played as (
    select
        p.reel, cast(sum(p.count) as bigint) as faults_count,
        sum(p.exposure_h order by p.machine, p.role) as played_h,
        case
            when count(*) = count(s.seat_h)
            then sum(s.seat_count / s.seat_h * p.exposure_h order by p.machine, p.role)
        end as expected
    from measure_playback as p
    left join seats as s on p.machine = s.machine and p.role = s.role and s.seat_h > 0
    group by p.reel
)
select
    n.reel, t.reel is not null as is_told, l.reel is not null as is_labelled, coalesce(l.programme, b.booked_programme)
        as programme, l.show_name, l.recorded_on, l.recorded_at_utc, l.recordist_no,
    case when c.show_persons then l.recorded_by end as recorded_by, coalesce(b.bookings_count, 0) as bookings_count,
    coalesce(b.plays_count, 0) as plays_count, b.last_at_utc, coalesce(p.faults_count, 0) as faults_count,
    coalesce(p.played_h, 0.0) as played_h, p.expected
from named as n
cross join site_settings as c
left join told as t on n.reel = t.reel
left join signed as l on n.reel = l.reel
left join booked as b on n.reel = b.reel
left join played as p on n.reel = p.reel
where n.reel is not null
order by n.reel
"""
REEL_BOOKINGS = f"""
with
{NAMED_REELS}
select
    b.reel, b.machine, b.role, b.channel, b.programme, b.transmission, b.started_at_utc, b.ended_at_utc,
    b.started_at_utc >= l.as_of_at_utc as is_ahead
from clean_bookings as b
inner join told as t on b.reel = t.reel
cross join core_as_of as l
order by b.reel, b.started_at_utc, b.booking
"""
# What began at the instant a booking begins belongs to the reel before: see the faults at playback.
REEL_FAULTS = """
select f.reel, f.machine, f.role, f.at_utc, f.what, f.is_common, f.is_repeated, p.incident
from measure_playback_faults as f
left join core_incident_recoveries as p on f.recovery_no = p.recovery_no
where f.reel is not null
order by f.reel, f.at_utc, f.machine
"""
PLAYED_ON = f"""
with
{NAMED_REELS}
select p.reel, p.machine, sum(p.exposure_h order by p.role) as played_h, cast(sum(p.count) as bigint) as faults_count
from measure_playback as p
inner join told as t on p.reel = t.reel
group by p.reel, p.machine order by p.reel, p.machine
"""
# The programme of each transmission with an event, once for each of its incidents.
PROGRAMMES = """
select b.programme, r.transmission, p.incident, min(p.started_at_utc) as started_at_utc
from core_incident_recoveries as p
inner join core_recoveries as r on p.recovery_no = r.recovery_no
inner join (
    select distinct transmission, channel, programme from clean_bookings where programme is not null
) as b on r.transmission = b.transmission and r.channel = b.channel
group by b.programme, r.transmission, p.incident
order by b.programme, min(p.started_at_utc), p.incident, r.transmission
"""
HISTORY_TABLES = {
    "machine_months": MACHINE_MONTHS,
    "machine_care": MACHINE_CARE,
    "machine_bookings": MACHINE_BOOKINGS,
    "machine_parts": MACHINE_PARTS,
    "reels": REEL_ROWS,
    "reel_bookings": REEL_BOOKINGS,
    "reel_faults": REEL_FAULTS,
    "played_on": PLAYED_ON,
    "programmes": PROGRAMMES,
}
