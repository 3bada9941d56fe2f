-- How long recovery took: from the onset (start of not-good on the machine left, else of its open alarm) to the take and
-- to cover again; from the start of lost air to its end. A null time does not apply; false beside it: cut short there.
-- grain: one interruption or protect switch
-- key: recovery_no
-- reads: core_recovery_events, core_fault_spans, core_alarms, core_air_spans, core_pieces, core_early_ends, core_not_air
with
events as (select * from core_recovery_events),
air as (
    select a.*, p.window_started_at_utc
    from core_air_spans as a
    inner join core_pieces as p on a.channel = p.channel and a.piece_started_at_utc = p.started_at_utc
),
windows as (
    select e.recovery_no, e.channel, e.transmission, p.window_started_at_utc
    from core_recovery_events as e
    inner join core_pieces as p on e.channel = p.channel and e.piece_started_at_utc = p.started_at_utc
),
not_air as (
    select e.recovery_no, min(n.started_at_utc) as started_at_utc
    from events as e
    inner join core_not_air as n on e.channel = n.channel and n.started_at_utc >= e.started_at_utc
    group by e.recovery_no
),
last_ends as (
    select w.recovery_no, max(coalesce(e.ended_early_at_utc, p.ended_at_utc)) as ended_at_utc
    from windows as w
    inner join core_pieces as p
        on w.channel = p.channel and w.transmission = p.transmission and w.window_started_at_utc = p.window_started_at_utc
    left join core_early_ends as e on p.channel = e.channel and p.started_at_utc = e.piece_started_at_utc
    group by w.recovery_no
),
window_ends as (
    select l.recovery_no, least(l.ended_at_utc, coalesce(n.started_at_utc, l.ended_at_utc)) as ended_at_utc
    from last_ends as l
    left join not_air as n on l.recovery_no = n.recovery_no
),
alarmed as (
    select e.recovery_no, min(k.started_at_utc) as started_at_utc
    from events as e
    inner join core_alarms as k
        on e.machine = k.machine
        and k.started_at_utc <= coalesce(e.take_at_utc, e.started_at_utc)
        and k.ended_at_utc > coalesce(e.take_at_utc, e.started_at_utc)
    group by e.recovery_no
),
onsets as (
    select e.*, coalesce(n.started_at_utc, a.started_at_utc) as onset_at_utc
    from events as e
    left join core_fault_spans as n
        on e.machine = n.machine
        and n.started_at_utc <= e.judged_at_utc
        and (n.ended_at_utc is null or n.ended_at_utc > e.judged_at_utc)
    left join alarmed as a on e.recovery_no = a.recovery_no
),
covered_before as (
    select o.recovery_no
    from onsets as o
    inner join air as b
        on o.channel = b.channel
        and o.first_piece_started_at_utc = b.piece_started_at_utc
        and b.ended_at_utc >= o.started_at_utc
        and b.started_at_utc < o.started_at_utc
    where b.state = 'covered'
),
covered_again as (
    select o.recovery_no, min(greatest(b.started_at_utc, o.settled_at_utc)) as at_utc
    from onsets as o
    inner join windows as w on o.recovery_no = w.recovery_no
    inner join window_ends as p on o.recovery_no = p.recovery_no
    inner join air as b
        on w.channel = b.channel
        and w.transmission = b.transmission
        and w.window_started_at_utc = b.window_started_at_utc
        and b.ended_at_utc > o.settled_at_utc
        and b.started_at_utc < p.ended_at_utc
        and b.state = 'covered'
    where o.settled_at_utc < p.ended_at_utc
    group by o.recovery_no
),
timed as (
    select
        o.recovery_no,
        o.interruption_no,
        o.switch_no,
        o.channel,
        o.transmission,
        o.machine,
        o.started_at_utc,
        o.ended_at_utc,
        o.onset_at_utc,
        o.take_at_utc,
        g.at_utc as covered_again_at_utc,
        c.recovery_no is not null as was_covered,
        case
            when o.take_at_utc is not null then date_diff('microsecond', o.onset_at_utc, o.take_at_utc) * 0.000001
            when o.is_open then date_diff('microsecond', o.onset_at_utc, o.ended_at_utc) * 0.000001
        end as to_take_s,
        o.take_at_utc is not null as is_taken,
        case
            when o.interruption_no is not null
            then date_diff('microsecond', o.started_at_utc, o.ended_at_utc) * 0.000001
        end as to_air_s,
        not o.is_open as is_back,
        case
            when c.recovery_no is not null
            then date_diff('microsecond', o.onset_at_utc, coalesce(g.at_utc, p.ended_at_utc)) * 0.000001
        end as to_cover_s,
        g.at_utc is not null as is_covered_again
    from onsets as o
    left join covered_before as c on o.recovery_no = c.recovery_no
    left join covered_again as g on o.recovery_no = g.recovery_no
    left join window_ends as p on o.recovery_no = p.recovery_no
)
select * from timed
