"""The selects behind what an incident's page proves and tells of the room around: rows that lie before its window, too.

Each reads all shown incidents at once, always in one order, and finds the last row before an instant by an as-of join,
so that the cost does not grow with the square of the log. Words are looked for by their numbers, machines and instants
alone; only those found are read whole. What people are called is not selected.
"""

from __future__ import annotations

from pipeline.render.incident_queries import AROUND

# The last word of each kind that a machine had said when the window opens: what still stood then.
STANDING = (
    AROUND
    + """,
asked as (
    select m.incident, m.machine, k.kind, w.from_at_utc
    from machines as m
    inner join windows as w on m.incident = w.incident
    cross join (values ('motion'), ('lock'), ('picture'), ('sound'), ('offset')) as k(kind)
),
kinds as (
    select machine, at_utc, event_no,
        case
            when event in ('roll', 'stop') then 'motion'
            when event in ('lock', 'unlock') then 'lock'
            when event in ('picture_lost', 'picture_back') then 'picture'
            when event in ('sound_lost', 'sound_back') then 'sound'
            when event = 'offset' then 'offset'
        end as kind
    from core_word_rows
    where event in (
            'roll', 'stop', 'lock', 'unlock', 'picture_lost', 'picture_back', 'sound_lost', 'sound_back', 'offset'
        )
        and machine in (select machine from machines)
        and at_utc < (select max(from_at_utc) from windows)
),
words as (select machine, kind, at_utc, max(event_no) as event_no from kinds group by machine, kind, at_utc),
found as (
    select a.incident, w.event_no
    from asked as a
    asof join words as w on a.machine = w.machine and a.kind = w.kind and a.from_at_utc > w.at_utc
)
select f.incident, e.machine, e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail, e.file, e.line,
    o.partner, o.is_within
from found as f
inner join core_words as e on f.event_no = e.event_no
left join core_offsets as o on e.event_no = o.event_no
order by f.incident, e.at_utc, e.machine, e.event
"""
)
# The last take on each channel before the window: where the selector stood as it opens.
LAST_TAKES = (
    AROUND
    + """,
takes as (select * from core_takes qualify row_number() over (partition by channel, at_utc order by take_no desc) = 1),
asked as (
    select c.incident, c.channel, w.from_at_utc
    from channels as c
    inner join windows as w on c.incident = w.incident
)
select a.incident, t.channel, t.at_utc, t.from_machine, t.to_machine, t.reason, s.action, s.at_text, t.file, t.line
from asked as a
asof join takes as t on a.channel = t.channel and a.from_at_utc > t.at_utc
left join clean_switches as s on t.file = s.file and t.line = s.line
order by a.incident, t.channel
"""
)
# What every machine of the room was booked for in the window, with the label of its reel.
BOOKED = (
    AROUND
    + """
select w.incident, b.booking, b.transmission, b.channel, b.programme, b.show, b.reel, b.machine, b.role,
    b.started_at_utc, b.ended_at_utc, b.file, b.line, l.recorded_on, l.recorded_at_utc, l.file as label_file,
    l.line as label_line
from windows as w
inner join clean_bookings as b on b.started_at_utc < w.to_at_utc and b.ended_at_utc > w.from_at_utc
left join clean_reels as l on b.reel = l.reel
order by w.incident, b.started_at_utc, b.machine, b.booking
"""
)
PAIR_STATES = (
    AROUND
    + """
select a.incident, p.machine_a, p.machine_b, p.started_at_utc, p.ended_at_utc, p.is_in_step
from machines as a
inner join machines as b on a.incident = b.incident
inner join windows as w on a.incident = w.incident
inner join core_pair_states as p
    on a.machine = p.machine_a
    and b.machine = p.machine_b
    and p.started_at_utc < w.to_at_utc
    and (p.ended_at_utc is null or p.ended_at_utc > w.from_at_utc)
order by a.incident, p.machine_a, p.machine_b, p.started_at_utc
"""
)
# When the machine that was left was first good again after its not-good stretch, and the line that says so.
GOOD_AGAIN = """
with
faults as (
    select p.incident, p.event_key, p.machine, p.started_at_utc, f.started_at_utc as fault_at_utc
    from shown_parts as s
    inner join core_incident_recoveries as p on s.event_key = p.event_key
    asof join core_fault_spans as f on p.machine = f.machine and p.ended_at_utc >= f.started_at_utc
    where f.ended_at_utc is null or f.ended_at_utc > p.started_at_utc
),
goods as (select machine, started_at_utc from core_machine_states where state = 'good')
select s.incident, f.event_key, f.machine, f.fault_at_utc, g.started_at_utc as at_utc, e.event, e.detail, e.value,
    e.within_s, e.at_text, e.file, e.line
from faults as f
inner join shown_parts as s on f.event_key = s.event_key
asof join goods as g on f.machine = g.machine and f.fault_at_utc < g.started_at_utc
inner join core_words as e on g.machine = e.machine and g.started_at_utc = e.at_utc and e.event <> 'alive'
qualify row_number() over (partition by s.incident, f.event_key order by e.event_no desc) = 1
order by s.incident, f.event_key
"""
# What was logged just as air was covered again, on whatever machine of the transmission.
AGAIN = """
select distinct s.incident, s.event_key, e.machine, e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail,
    e.file, e.line, e.event_no
from shown_parts as s
inner join core_recoveries as r on s.recovery_no = r.recovery_no
inner join core_words as e on r.covered_again_at_utc = e.at_utc and e.event <> 'alive'
inner join core_members as m
    on r.channel = m.channel
    and r.transmission = m.transmission
    and e.machine = m.machine
    and m.started_at_utc <= e.at_utc
    and m.ended_at_utc > e.at_utc
order by s.incident, s.event_key, e.event_no
"""
# Every stay of the heads that sat in these machines as it began: where each was fitted and until when.
HEAD_STAYS = (
    AROUND
    + """,
fitted as (
    select e.machine, e.at_utc, e.within_s, e.at_text, e.event, e.value, e.detail, e.file, e.line,
        lead(e.at_utc) over (partition by e.machine order by e.event_no) as until_utc
    from core_words as e
        where e.event = 'head_fitted'
),
now_in as (
    select m.incident, m.machine, f.detail, w.started_at_utc
    from machines as m
    inner join windows as w on m.incident = w.incident
    asof join fitted as f on m.machine = f.machine and w.started_at_utc > f.at_utc
)
select distinct n.incident, n.machine as sits_in, f.machine, f.at_utc, f.until_utc, f.within_s, f.at_text, f.event,
    f.value, f.detail, f.file, f.line
from now_in as n
inner join fitted as f
    on f.at_utc < n.started_at_utc and (n.detail = f.detail or (n.detail is null and n.machine = f.machine))
order by n.incident, n.machine, f.at_utc, f.machine
"""
)
# What each of these machines logged as trouble before it, in all its log: how often, and the last three.
FAULTS_BEFORE = (
    AROUND
    + """,
faults as (
    select e.*, row_number() over (partition by machine order by event_no) as fault_no
    from core_words as e
    where event in ('alarm', 'unlock', 'picture_lost', 'sound_lost')
),
last as (
    select m.incident, m.machine, f.fault_no
    from machines as m
    inner join windows as w on m.incident = w.incident
    asof join faults as f on m.machine = f.machine and w.from_at_utc > f.at_utc
)
select l.incident, f.machine, l.fault_no as faults_count, f.at_utc, f.within_s, f.at_text, f.event, f.value, f.detail,
    f.file, f.line
from last as l
inner join faults as f on l.machine = f.machine and f.fault_no > l.fault_no - 3 and f.fault_no <= l.fault_no
order by l.incident, f.machine, f.fault_no desc
"""
)
OTHERS = (
    AROUND
    + """,
others as (select * from shown_others)
"""
)
# The other machines of the room: their last line of all as it began, and the last that says whether they moved.
OTHERS_LAST = (
    OTHERS
    + """,
lines as (
    select * from shown_lines
    qualify row_number() over (
        partition by machine, at_utc
        order by event_rank desc, event desc, detail desc nulls last, value desc nulls last, file desc, line desc
    ) = 1
),
motions as (
    select machine, at_utc, max(event_no) as event_no
    from core_word_rows
    where event in ('roll', 'stop')
        and machine in (select machine from others)
        and at_utc <= (select max(started_at_utc) from others)
    group by machine, at_utc
),
moved as (
    select o.incident, o.machine, m.event_no
    from others as o
    asof left join motions as m on o.machine = m.machine and o.started_at_utc >= m.at_utc
),
last as (
    select o.incident, o.machine, 'word' as kind, e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail, e.file,
        e.line
    from others as o
    asof left join lines as e on o.machine = e.machine and o.started_at_utc >= e.at_utc
    union all
    select o.incident, o.machine, 'motion', e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail, e.file, e.line
    from moved as o
    left join core_words as e on o.event_no = e.event_no
)
select * from last
order by incident, machine, kind
"""
)
OTHERS_STATES = (
    OTHERS
    + """
select o.incident, s.machine, s.started_at_utc, s.ended_at_utc, s.state
from others as o
inner join core_machine_states as s
    on o.machine = s.machine
    and s.started_at_utc < o.to_at_utc
    and (s.ended_at_utc is null or s.ended_at_utc > o.from_at_utc)
order by o.incident, s.machine, s.started_at_utc
"""
)
OTHERS_EVENTS = (
    OTHERS
    + """
select o.incident, e.machine, e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail, e.file, e.line
from others as o
inner join core_words as e on o.machine = e.machine and e.at_utc >= o.from_at_utc and e.at_utc <= o.to_at_utc
where e.event in ('roll', 'stop', 'alarm', 'unlock', 'picture_lost', 'sound_lost')
order by o.incident, e.at_utc, e.event_no
"""
)
# The last words, until then, of each machine that said something just as air was covered again.
AGAIN_WORDS = """
with
moments as (
    select distinct s.incident, s.event_key, m.machine, r.covered_again_at_utc
    from shown_parts as s
    inner join core_recoveries as r on s.recovery_no = r.recovery_no
    inner join core_members as m
        on r.channel = m.channel
        and r.transmission = m.transmission
        and m.started_at_utc <= r.covered_again_at_utc
        and m.ended_at_utc > r.covered_again_at_utc
),
asked as (select m.*, k.kind from moments as m cross join (values ('motion'), ('lock')) as k(kind)),
kinds as (
    select machine, at_utc, event_no, case when event in ('roll', 'stop') then 'motion' else 'lock' end as kind
    from core_word_rows
    where event in ('roll', 'stop', 'lock', 'unlock')
        and machine in (select machine from moments)
        and at_utc <= (select max(covered_again_at_utc) from moments)
),
words as (select machine, kind, at_utc, max(event_no) as event_no from kinds group by machine, kind, at_utc),
found as (
    select a.incident, a.event_key, w.event_no
    from asked as a
    asof join words as w on a.machine = w.machine and a.kind = w.kind and a.covered_again_at_utc >= w.at_utc
)
select f.incident, f.event_key, e.machine, e.at_utc, e.at_text, e.within_s, e.event, e.value, e.detail, e.file, e.line
from found as f
inner join core_words as e on f.event_no = e.event_no
order by f.incident, f.event_key, e.machine, e.event
"""
# What a person ruled of these parts: the row of the ruling, without who.
RULED = """
with
named as (
    select s.incident, s.event_key, w.ruling
    from shown_parts as s
    inner join core_recoveries as r on s.recovery_no = r.recovery_no
    inner join core_switches as w on r.switch_no = w.switch_no
    union
    select s.incident, s.event_key, c.ruling
    from shown_parts as s
    inner join measure_causes as c on s.recovery_no = c.recovery_no
    union
    select s.incident, s.event_key, p.joined_by
    from shown_parts as s
    inner join core_incident_recoveries as p on s.event_key = p.event_key
)
select n.incident, n.event_key, m.ruling, m.rules, m.at_utc, m.says, m.why, m.decided_at_utc, m.file, m.line
from named as n
inner join measure_rulings as m on n.ruling = m.ruling and m.is_fitting
order by n.incident, n.event_key, m.ruling
"""
ROOM_TABLES = {
    "standing": STANDING,
    "last_takes": LAST_TAKES,
    "booked": BOOKED,
    "pair_states": PAIR_STATES,
    "good_again": GOOD_AGAIN,
    "again": AGAIN,
    "again_words": AGAIN_WORDS,
    "ruled": RULED,
    "head_stays": HEAD_STAYS,
    "faults_before": FAULTS_BEFORE,
    "others_last": OTHERS_LAST,
    "others_states": OTHERS_STATES,
    "others_events": OTHERS_EVENTS,
}
