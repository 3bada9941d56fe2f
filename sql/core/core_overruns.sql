-- Feed that goes on past its piece: the machine that fed at the end, still selected and good, until the first take, the
-- next piece on the channel, a silence of more than the carry (or of a machine that logs `alive`, the silence), or
-- data-as-of.
-- grain: one overrun
-- key: channel, started_at_utc
-- reads: core_pieces, core_air_spans, core_takes, core_machine_states, core_machine_moments, core_as_of, core_settings
with
pieces as (
    select
        p.*,
        lead(p.started_at_utc) over (partition by p.channel order by p.started_at_utc) as next_piece_at_utc
    from core_pieces as p
),
ends as (
    select
        p.channel,
        p.transmission,
        p.ended_at_utc,
        p.next_piece_at_utc,
        a.feed as machine
    from pieces as p
    inner join core_air_spans as a
        on p.channel = a.channel and p.started_at_utc = a.piece_started_at_utc and p.ended_at_utc = a.ended_at_utc
    where not p.is_cut and a.feed <> 'standby' and a.state in ('covered', 'unproved', 'exposed')
),
next_takes as (
    select e.channel, e.ended_at_utc, min(t.at_utc) as at_utc
    from ends as e
    inner join core_takes as t on e.channel = t.channel and t.at_utc >= e.ended_at_utc
    group by e.channel, e.ended_at_utc
),
good as (
    select e.channel, e.ended_at_utc, s.ended_at_utc as good_until_utc
    from ends as e
    inner join core_machine_states as s
        on e.machine = s.machine
        and s.state = 'good'
        and s.started_at_utc <= e.ended_at_utc
        and (s.ended_at_utc is null or s.ended_at_utc > e.ended_at_utc)
),
stale as (
    select e.channel, e.ended_at_utc, min(m.at_utc + s.carry_time) as at_utc
    from ends as e
    cross join core_settings as s
    inner join core_machine_moments as m
        on e.machine = m.machine
        and not m.logs_alive
        and (m.next_at_utc is null or m.next_at_utc > greatest(e.ended_at_utc, m.at_utc + s.carry_time))
    group by e.channel, e.ended_at_utc
),
bounded as (
    select
        e.channel,
        e.transmission,
        e.machine,
        e.ended_at_utc as started_at_utc,
        least(
            coalesce(e.next_piece_at_utc, a.as_of_at_utc),
            coalesce(t.at_utc, a.as_of_at_utc),
            coalesce(g.good_until_utc, a.as_of_at_utc),
            coalesce(h.at_utc, a.as_of_at_utc),
            a.as_of_at_utc
        ) as ended_at_utc
    from ends as e
    cross join core_as_of as a
    inner join good as g on e.channel = g.channel and e.ended_at_utc = g.ended_at_utc
    left join stale as h on e.channel = h.channel and e.ended_at_utc = h.ended_at_utc
    left join next_takes as t on e.channel = t.channel and e.ended_at_utc = t.ended_at_utc
),
overruns as (select * from bounded where ended_at_utc > started_at_utc)
select * from overruns
