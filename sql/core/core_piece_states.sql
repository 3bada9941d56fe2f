-- The state of each machine of a piece through the piece: good, not good, or not known.
-- grain: one unbroken state of a machine within a piece
-- key: channel, piece_started_at_utc, machine, started_at_utc
-- reads: core_piece_machines, core_machine_states
-- renewed: by piece
with
machines as (select * from core_piece_machines),
states as (select * from core_machine_states),
clipped as (
    select
        m.channel,
        m.piece_started_at_utc,
        m.machine,
        case when s.state in ('good', 'not good') then s.state else 'not known' end as state,
        greatest(s.started_at_utc, m.known_from_utc, m.piece_started_at_utc) as started_at_utc,
        least(coalesce(s.ended_at_utc, m.piece_ended_at_utc), m.piece_ended_at_utc) as ended_at_utc
    from machines as m
    inner join states as s
        on m.machine = s.machine
        and s.started_at_utc < m.piece_ended_at_utc
        and (s.ended_at_utc is null or s.ended_at_utc > greatest(m.known_from_utc, m.piece_started_at_utc))
    where m.known_from_utc < m.piece_ended_at_utc
),
before_known as (
    select
        channel,
        piece_started_at_utc,
        machine,
        'not known' as state,
        piece_started_at_utc as started_at_utc,
        least(coalesce(known_from_utc, piece_ended_at_utc), piece_ended_at_utc) as ended_at_utc
    from machines
),
together as (
    select * from (select * from clipped union all select * from before_known) as both_kinds
    where ended_at_utc > started_at_utc
)
select * from together
