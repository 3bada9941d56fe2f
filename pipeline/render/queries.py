"""The selects behind the pages: each table is read once for all pages, in an order that never changes.

What people are called (who took, wrote, recorded or ruled) is not selected at all, so no page can print it.
"""

from __future__ import annotations

INCIDENTS = """
select i.*, m.month
from core_incidents as i
left join site_months as m on i.started_at_utc >= m.started_at_utc and i.started_at_utc < m.ended_at_utc
order by i.started_at_utc, i.incident
"""

# One row a part of an incident: a recovery (interruption, switch or both) or a rescue by another source.
PARTS = """
select
    p.incident, p.event_key, p.recovery_no, p.channel, p.started_at_utc, p.ended_at_utc, p.machine, p.to_machine,
    m.month, r.transmission, r.interruption_no, r.switch_no, r.onset_at_utc, r.take_at_utc, r.covered_again_at_utc,
    r.was_covered, r.to_take_s, r.is_taken, r.to_air_s, r.is_back, r.to_cover_s, r.is_covered_again,
    i.lost_s, i.is_demand, i.is_met, i.is_healed, i.is_unprotected, i.is_open, s.kind, s.reason, t.ticket,
    c.top, c.second, c.grade, c.words, b.reel, l.recorded_on, s.found_kind, s.ruling as switch_ruling, c.found_top,
    c.found_second, c.found_grade, c.ruling as cause_ruling, p.found_incident, p.joined_by
from core_incident_recoveries as p
left join site_months as m on p.started_at_utc >= m.started_at_utc and p.started_at_utc < m.ended_at_utc
left join core_recoveries as r on p.recovery_no = r.recovery_no
left join core_interruptions as i on r.interruption_no = i.interruption_no
left join core_switches as s on r.switch_no = s.switch_no
left join measure_ticket_matches as t on p.recovery_no = t.recovery_no
left join measure_causes as c on p.recovery_no = c.recovery_no
left join (
    select machine, transmission, started_at_utc, ended_at_utc, any_value(reel order by booking) as reel
    from clean_bookings
    where role in ('air', 'protect') and reel is not null
    group by all
) as b
    on p.machine = b.machine
    and r.transmission = b.transmission
    and b.started_at_utc <= p.started_at_utc
    and b.ended_at_utc > p.started_at_utc
left join clean_reels as l on b.reel = l.reel
order by p.started_at_utc, p.event_key, b.started_at_utc
"""

TICKETS = """
select t.ticket, t.machine, t.opened_at_utc, t.restored_at_utc, t.closed_at_utc, t.symptom, t.cause, t.action, t.part,
    t.labour_h, t.parts_cost, t.reel, x.recovery_no, p.incident
from clean_tickets as t
left join measure_ticket_matches as x on t.ticket = x.ticket
left join core_incident_recoveries as p on x.recovery_no = p.recovery_no
order by t.opened_at_utc, t.ticket
"""
REGISTER = """
select machine, kind, pair, machine_group, installed_at_utc, retired_at_utc, replacement_cost
from clean_machines order by machine
"""
NO_LOCK = """
with
motions as (
    select machine from core_words
    group by machine
    having count(*) filter (where event = 'roll') > 0 and count(*) filter (where event = 'lock') = 0
)
select m.machine, cast(sum(h.lines_count) as bigint) as events_count
from motions as m
inner join core_heard_spans as h on m.machine = h.machine
group by m.machine
order by m.machine
"""
# Of each reason, but for the values in it, the first twenty rows; what is of no interest to the room is counted only.
# There may be tens of millions of them, so that their texts are looked up for those that are shown.
REASONS = """
with
reasons as (
    select
        feed, file, line, reason,
        regexp_replace(
            regexp_replace(reason, '"[^"]*"', '…', 'g'), '^(superseded: a later row says something else) of .*$', '\\1'
        ) as kind
    from core_set_aside
)
"""
SET_ASIDE = (
    REASONS
    + """,
firsts as (
    select feed, kind, unnest(min({'file': file, 'line': line, 'reason': reason}, 20)) as place
    from reasons
    where reason not like 'of no interest:%'
    group by feed, kind
),
shown as (
    select feed, unnest(place) from firsts order by place limit 200
)
select s.feed, s.file, s.line, s.reason, a.text, coalesce(f.is_mapped, false) as is_mapped
from shown as s
join core_set_aside as a on s.feed = a.feed and s.file = a.file and s.line = a.line and s.reason = a.reason
left join source_files as f on s.file = f.file
order by s.file, s.line, s.reason
"""
)
SET_ASIDE_COUNTS = (
    REASONS
    + """
select feed, kind as reason, count(*) as rows_count
from reasons group by feed, kind order by rows_count desc, feed, kind limit 30
"""
)
PERSONS = """
select distinct name from (
    select taken_by as name from raw_switches
    union all select written_by from raw_tickets
    union all select recorded_by from raw_reels
    union all select ruled_by from raw_rulings
) where name is not null and length(trim(name)) > 1
order by length(name) desc, name
"""
FILES = "select * from core_files order by file"
# The last thousand decided, so that no file of rulings can make the page endless.
# Who ruled only where the site has persons shown.
RULINGS = """
select m.ruling, m.rules, m.channel, m.at_utc, m.until_utc, m.says, m.why, m.decided_at_utc, m.fits_count, m.overrode,
    m.is_fitting, m.why_not, m.file, m.line, case when s.show_persons then r.ruled_by end as ruled_by
from measure_rulings as m
cross join site_settings as s
left join clean_rulings as r on m.ruling = r.ruling
qualify row_number() over (order by m.decided_at_utc desc nulls last, m.file desc, m.line desc) <= 1000
order by m.at_utc, m.ruling
"""
CHECKS = """
select check_id, rule, severity, why, touches, found_count, of_count, is_passed
from check_results order by is_passed, severity desc, check_id
"""
FINDINGS = """
select check_id, feed, file, line, what
from check_findings
qualify row_number() over (partition by check_id order by file nulls first, line nulls first, what) <= 20
order by check_id, file nulls first, line nulls first, what
"""
# Air booked and not one word from the machine that fed: holes, by month and machine.
HOLES = """
with
unknown as (select * from core_air_spans where state = 'unknown'),
split as (
    select
        m.month, u.channel, u.feed,
        date_diff('microsecond', greatest(u.started_at_utc, m.started_at_utc), least(u.ended_at_utc, m.ended_at_utc))
            * 0.000001 as unknown_s
    from unknown as u
    inner join site_months as m on u.started_at_utc < m.ended_at_utc and u.ended_at_utc > m.started_at_utc
)
select month, channel, feed, count(*) as spans_count, sum(unknown_s) as unknown_s, max(unknown_s) as longest_s
from split group by month, channel, feed order by month, unknown_s desc, channel, feed
"""
WORK = """
select machine, count(*) as tickets_count, sum(labour_h) as labour_h, count(labour_h) as labour_count,
    sum(parts_cost) as parts_cost, count(parts_cost) as parts_count,
    count(*) filter (where restored_at_utc is null and closed_at_utc is null) as open_count
from clean_tickets where machine is not null group by machine order by machine
"""
HEADS = """
select machine, count(*) as fitted_count, max(at_utc) as last_at_utc
from core_words where event = 'head_fitted' group by machine order by machine
"""
# Only days and months with air time or with feed past it: a booking without end makes days by the million.
REACHED = """
where ended_at_utc > (select min(started_at_utc) from core_pieces)
    and (
        started_at_utc < (select max(ended_at_utc) from core_pieces)
        or month <= (select max(month) from metric_around)
    )
"""
DAYS = f"select day, month, started_at_utc from site_days {REACHED} order by started_at_utc"
