-- The machines that matter in a piece (of the transmission, or fed) and from when each is known there: any event from
-- the lead before the window on, or left rolling and last heard within the carry before it.
-- grain: one machine of a piece
-- key: channel, piece_started_at_utc, machine
-- reads: core_pieces, core_members, core_feed, core_machine_moments, core_heard_spans, core_settings
-- renewed: by piece
with
pieces as (select * from core_pieces),
settings as (select * from core_settings),
present as (
    select p.channel, p.started_at_utc as piece_started_at_utc, m.machine
    from pieces as p
    inner join core_members as m
        on p.channel = m.channel
        and p.transmission = m.transmission
        and m.started_at_utc < p.ended_at_utc
        and m.ended_at_utc > p.started_at_utc
    union
    select channel, piece_started_at_utc, feed from core_feed where feed not in ('standby', 'other')
),
placed as (
    select p.channel, p.transmission, p.window_started_at_utc, p.started_at_utc, p.ended_at_utc, m.machine
    from pieces as p
    inner join present as m on p.channel = m.channel and p.started_at_utc = m.piece_started_at_utc
),
-- The last moment before each window's start: moments and starts in one order, so that the work does not grow with
-- their product.
asked as (
    select machine, at_utc, moment_no, 0 as is_question from core_machine_moments
    union all
    select distinct machine, window_started_at_utc, cast(null as bigint), 1 from placed
),
answered as (
    select
        machine,
        at_utc,
        is_question,
        max(moment_no) over (
            partition by machine order by at_utc, is_question, moment_no rows between unbounded preceding and current row
        ) as moment_no
    from asked
),
at_the_start as (
    select
        a.machine,
        a.at_utc as window_started_at_utc,
        case
            when a.at_utc - least(w.heard_until_utc, a.at_utc) <= s.lead_time then a.at_utc
            when w.is_rolling and a.at_utc - least(w.heard_until_utc, a.at_utc) <= s.carry_time then a.at_utc
            else w.next_at_utc
        end as known_from_utc
    from answered as a
    cross join settings as s
    inner join core_machine_moments as w on a.machine = w.machine and a.moment_no = w.moment_no
    where a.is_question = 1
),
first_words as (select machine, min(first_at_utc) as at_utc from core_heard_spans group by machine),
known as (
    select
        p.channel,
        p.transmission,
        p.started_at_utc as piece_started_at_utc,
        p.ended_at_utc as piece_ended_at_utc,
        p.machine,
        case when f.at_utc > p.window_started_at_utc then f.at_utc else a.known_from_utc end as known_from_utc
    from placed as p
    left join first_words as f on p.machine = f.machine
    left join at_the_start as a
        on p.machine = a.machine and p.window_started_at_utc = a.window_started_at_utc
)
select * from known
