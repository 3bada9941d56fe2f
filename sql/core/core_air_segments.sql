-- Each piece cut wherever anything changes: the feed, a machine's state, membership, or a word on being in step.
-- What a ruling says is no air is in none: here states, protect duty and early ends lose it.
-- grain: one slice of a piece in which nothing changes
-- key: channel, started_at_utc
-- reads: core_pieces, core_feed, core_piece_states, core_piece_machines, core_members, core_pair_states, core_not_air
-- renewed: by piece
with
pieces as (select * from core_pieces),
not_air as (select * from core_not_air),
changes as (
    select channel, piece_started_at_utc, started_at_utc as at_utc from core_feed
    union
    select channel, piece_started_at_utc, started_at_utc from core_piece_states
    union
    select p.channel, p.started_at_utc, unnest([m.started_at_utc, m.ended_at_utc])
    from pieces as p
    inner join core_members as m
        on p.channel = m.channel
        and p.transmission = m.transmission
        and m.started_at_utc < p.ended_at_utc
        and m.ended_at_utc > p.started_at_utc
    union
    select a.channel, a.piece_started_at_utc, unnest([w.started_at_utc, w.ended_at_utc])
    from core_piece_machines as a
    inner join core_piece_machines as b
        on a.channel = b.channel and a.piece_started_at_utc = b.piece_started_at_utc and a.machine < b.machine
    inner join core_pair_states as w
        on a.machine = w.machine_a
        and b.machine = w.machine_b
        and w.started_at_utc < a.piece_ended_at_utc
        and (w.ended_at_utc is null or w.ended_at_utc > a.piece_started_at_utc)
    union
    select p.channel, p.started_at_utc, unnest([n.started_at_utc, n.ended_at_utc])
    from pieces as p
    inner join not_air as n
        on p.channel = n.channel and n.started_at_utc < p.ended_at_utc and n.ended_at_utc > p.started_at_utc
),
edges as (
    select channel, started_at_utc as piece_started_at_utc, started_at_utc as at_utc from pieces
    union
    select p.channel, p.started_at_utc, c.at_utc
    from pieces as p
    inner join changes as c on p.channel = c.channel and p.started_at_utc = c.piece_started_at_utc
    where c.at_utc > p.started_at_utc and c.at_utc < p.ended_at_utc
),
all_slices as (
    select
        p.channel,
        p.transmission,
        p.started_at_utc as piece_started_at_utc,
        e.at_utc as started_at_utc,
        coalesce(
            lead(e.at_utc) over (partition by e.channel, e.piece_started_at_utc order by e.at_utc), p.ended_at_utc
        ) as ended_at_utc
    from edges as e
    inner join pieces as p on e.channel = p.channel and e.piece_started_at_utc = p.started_at_utc
),
slices as (
    select s.*
    from all_slices as s
    left join not_air as n
        on s.channel = n.channel and n.started_at_utc <= s.started_at_utc and n.ended_at_utc > s.started_at_utc
    where n.channel is null
),
segments as (
    select
        s.*,
        f.feed,
        t.state as feed_state,
        m.machine is not null as is_member
    from slices as s
    inner join core_feed as f
        on s.channel = f.channel
        and s.piece_started_at_utc = f.piece_started_at_utc
        and f.started_at_utc <= s.started_at_utc
        and f.ended_at_utc > s.started_at_utc
    left join core_piece_states as t
        on s.channel = t.channel
        and s.piece_started_at_utc = t.piece_started_at_utc
        and f.feed = t.machine
        and t.started_at_utc <= s.started_at_utc
        and t.ended_at_utc > s.started_at_utc
    left join core_members as m
        on s.channel = m.channel
        and s.transmission = m.transmission
        and f.feed = m.machine
        and m.started_at_utc <= s.started_at_utc
        and m.ended_at_utc > s.started_at_utc
)
select * from segments
