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
-- What comes first after each end, and what held at it: in one order with the ends, so that the work does not grow with
-- the product of both.
takes_and_ends as (
    select channel, at_utc, 1 as is_take from core_takes
    union all
    select distinct channel, ended_at_utc, 0 from ends
),
next_takes as (
    select
        channel,
        at_utc as ended_at_utc,
        is_take,
        min(case when is_take = 1 then at_utc end) over (
            partition by channel order by at_utc, is_take rows between current row and unbounded following
        ) as at_utc
    from takes_and_ends
),
states_and_ends as (
    select machine, started_at_utc as at_utc, 0 as is_end from core_machine_states
    union all
    select distinct machine, ended_at_utc, 1 from ends
),
last_states as (
    select
        machine,
        at_utc as ended_at_utc,
        is_end,
        max(case when is_end = 0 then at_utc end) over (
            partition by machine order by at_utc, is_end rows between unbounded preceding and current row
        ) as started_at_utc
    from states_and_ends
),
good as (
    select l.machine, l.ended_at_utc, s.ended_at_utc as good_until_utc
    from last_states as l
    inner join core_machine_states as s on l.machine = s.machine and l.started_at_utc = s.started_at_utc
    where l.is_end = 1 and s.state = 'good' and (s.ended_at_utc is null or s.ended_at_utc > l.ended_at_utc)
),
waits_and_ends as (
    select
        m.machine,
        coalesce(m.next_at_utc, timestamp '9999-12-31') as at_utc,
        m.heard_until_utc + s.carry_time as stale_at_utc,
        0 as is_end
    from core_machine_moments as m
    cross join core_settings as s
    where not m.logs_alive and (m.next_at_utc is null or m.next_at_utc > m.heard_until_utc + s.carry_time)
    union all
    select distinct machine, ended_at_utc, cast(null as timestamp), 1 from ends
),
stale as (
    select
        machine,
        at_utc as ended_at_utc,
        is_end,
        min(stale_at_utc) over (
            partition by machine order by at_utc, is_end rows between current row and unbounded following
        ) as at_utc
    from waits_and_ends
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
    inner join good as g on e.machine = g.machine and e.ended_at_utc = g.ended_at_utc
    left join stale as h on e.machine = h.machine and e.ended_at_utc = h.ended_at_utc and h.is_end = 1
    left join next_takes as t on e.channel = t.channel and e.ended_at_utc = t.ended_at_utc and t.is_take = 0
),
overruns as (select * from bounded where ended_at_utc > started_at_utc)
select * from overruns
