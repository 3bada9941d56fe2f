-- Moves of the feed between two machines of the transmission, with the kind that the rules find. A stated reason decides
-- it; else what was known of the two machines at the first take. None where a take of it lies in what is ruled no air.
-- grain: one switch
-- key: take_no
-- reads: core_moves, core_members, core_piece_states, core_alarms, core_air_booked, core_early_ends, core_not_air
with
within as (
    select m.*
    from core_moves as m
    left join core_early_ends as e on m.channel = e.channel and m.piece_started_at_utc = e.piece_started_at_utc
    where (e.ended_early_at_utc is null or m.completed_at_utc < e.ended_early_at_utc)
        and not exists (
            select 1
            from core_not_air as n
            where n.channel = m.channel
                and (
                    (n.started_at_utc <= m.at_utc and n.ended_at_utc > m.at_utc)
                    or (n.started_at_utc <= m.completed_at_utc and n.ended_at_utc > m.completed_at_utc)
                )
        )
        and exists (
            select 1
            from core_members as a
            where a.channel = m.channel
                and a.transmission = m.transmission
                and a.machine = m.from_machine
                and a.started_at_utc <= m.at_utc
                and a.ended_at_utc > m.at_utc
        )
        and exists (
            select 1
            from core_members as b
            where b.channel = m.channel
                and b.transmission = m.transmission
                and b.machine = m.to_machine
                and b.started_at_utc <= m.completed_at_utc
                and b.ended_at_utc > m.completed_at_utc
        )
),
judged as (
    select
        w.*,
        f.state as from_state,
        t.state as to_state,
        coalesce(b.machine = w.to_machine, false) as is_back,
        exists (
            select 1
            from core_alarms as a
            where a.machine = w.from_machine and a.started_at_utc <= w.at_utc and a.ended_at_utc > w.at_utc
        ) as has_alarm
    from within as w
    left join core_piece_states as f
        on w.channel = f.channel
        and w.piece_started_at_utc = f.piece_started_at_utc
        and w.from_machine = f.machine
        and f.started_at_utc <= w.at_utc
        and f.ended_at_utc > w.at_utc
    left join core_piece_states as t
        on w.channel = t.channel
        and w.piece_started_at_utc = t.piece_started_at_utc
        and w.to_machine = t.machine
        and t.started_at_utc <= w.at_utc
        and t.ended_at_utc > w.at_utc
    left join core_air_booked as b
        on w.channel = b.channel
        and w.transmission = b.transmission
        and b.started_at_utc <= w.at_utc
        and b.ended_at_utc > w.at_utc
),
named as (
    select
        *,
        case
            when reason in ('planned', 'rehearsal') then 'planned'
            when reason in ('return', 'precaution') then reason
            when reason = 'fault' then 'forced'
            when from_state = 'not good' then 'forced'
            when from_state = 'good' and has_alarm then 'precaution'
            when is_back and from_state = 'good' and to_state = 'good' then 'return'
            else 'unexplained'
        end as found_kind
    from judged
),
switches as (
    select
        channel,
        transmission,
        piece_started_at_utc,
        at_utc,
        completed_at_utc,
        from_machine,
        to_machine,
        reason,
        found_kind,
        take_no
    from named
)
select * from switches
