-- The machines that matter in a piece (of the transmission, or fed) and from when each is known there: any event from
-- the lead before the window on, or left rolling and last heard within the carry before it.
-- grain: one machine of a piece
-- key: channel, piece_started_at_utc, machine
-- reads: core_pieces, core_members, core_feed, core_machine_moments, core_settings
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
at_the_start as (
    select
        p.channel,
        p.started_at_utc,
        p.machine,
        max(case
            when p.window_started_at_utc - w.at_utc <= s.lead_time then p.window_started_at_utc
            when w.is_rolling and p.window_started_at_utc - w.at_utc <= s.carry_time then p.window_started_at_utc
            else w.next_at_utc
        end) as known_from_utc
    from placed as p
    cross join settings as s
    inner join core_machine_moments as w
        on p.machine = w.machine
        and w.at_utc <= p.window_started_at_utc
        and (w.next_at_utc is null or w.next_at_utc > p.window_started_at_utc)
    group by p.channel, p.started_at_utc, p.machine
),
first_words as (select machine, min(at_utc) as at_utc from core_machine_moments group by machine),
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
        on p.channel = a.channel and p.started_at_utc = a.started_at_utc and p.machine = a.machine
)
select * from known
