"""The stretches and moments that figures are added up from, one select a table, each read once for all scopes.

Every frame has started_at_utc, ended_at_utc, month, channel, machine (null: standby), what, kind and number, and either
amount_us (microseconds) or amount (1 each). Seconds are split where a month ends, events count where they begin; the
flags beside them say which figures count an item.
"""

from __future__ import annotations

_PLACED = "inner join site_months as m on s.at_utc >= m.started_at_utc and s.at_utc < m.ended_at_utc"
_SPLIT = "inner join site_months as m on s.started_at_utc < m.ended_at_utc and s.ended_at_utc > m.started_at_utc"
_PARTS = """
    greatest(s.started_at_utc, m.started_at_utc) as started_at_utc,
    least(s.ended_at_utc, m.ended_at_utc) as ended_at_utc,
    date_diff(
        'microsecond', greatest(s.started_at_utc, m.started_at_utc), least(s.ended_at_utc, m.ended_at_utc)
    ) as amount_us,
    m.month, s.channel,
"""

# Beside each stretch the row that says what fed: the take that put the channel there, else the booking, else the first
# take inside, which names what it left.
AIR = f"""
with
stays as (
    select
        f.channel, f.piece_started_at_utc, f.started_at_utc, f.ended_at_utc, f.feed,
        coalesce(f.put_there_by, case when b.machine is distinct from f.feed then n.take_no end) as take_no,
        f.put_there_by is not null as is_put
    from core_feed as f
    left join core_air_booked as b
        on f.channel = b.channel
        and f.transmission = b.transmission
        and b.started_at_utc <= f.started_at_utc
        and b.ended_at_utc > f.started_at_utc
    left join core_feed as n
        on f.channel = n.channel and f.piece_started_at_utc = n.piece_started_at_utc and f.stay_no + 1 = n.stay_no
    where f.ended_at_utc > f.started_at_utc
),
booked as (
    select channel, transmission, machine, started_at_utc, ended_at_utc, min((file, line)) as place
    from clean_bookings where role = 'air'
    group by channel, transmission, machine, started_at_utc, ended_at_utc
)
select
    {_PARTS}
    nullif(s.feed, 'standby') as machine,
    case s.state when 'unknown' then 'not known' else s.state end
    || coalesce(', ' || case s.exposed_why
        when 'none booked' then 'no protect booked'
        when 'not good' then 'protect not good'
        when 'out of step' then 'protect out of step'
    end, '')
    || case when s.feed = 'standby' then ', on standby' else '' end
    || case when s.is_elsewhere then ', fed by a machine outside the transmission' else '' end
    || ' (transmission ' || s.transmission || ')' as what,
    'air' as kind, cast(null as bigint) as number,
    coalesce(t.file, b.place[1]) as file, coalesce(t.line, b.place[2]) as line,
    case
        when t.file is null then 'books ' || s.feed || ' to air'
        when f.is_put then 'put the channel on ' || s.feed
        else 'left ' || s.feed || ', which so fed until then'
    end as says,
    s.state, s.exposed_why, s.is_elsewhere
from core_air_spans as s
{_SPLIT}
left join stays as f
    on s.channel = f.channel
    and s.piece_started_at_utc = f.piece_started_at_utc
    and f.started_at_utc <= s.started_at_utc
    and f.ended_at_utc > s.started_at_utc
left join core_takes as t on f.take_no = t.take_no
left join booked as b
    on f.take_no is null
    and s.channel = b.channel
    and s.transmission = b.transmission
    and s.feed = b.machine
    and b.started_at_utc <= f.started_at_utc
    and b.ended_at_utc > f.started_at_utc
order by s.channel, s.started_at_utc, m.started_at_utc
"""
AROUND = f"""
with spans as (
    select channel, machine, started_at_utc, ended_at_utc, transmission, 'rescue' as kind, take_no as number
    from core_rescues
    union all
    select channel, machine, started_at_utc, ended_at_utc, transmission, 'overrun', null from core_overruns
)
select
    {_PARTS}
    s.machine,
    case s.kind when 'rescue' then 'another source on air' else 'feed past the end of the window' end
    || ' (transmission ' || s.transmission || ')' as what,
    s.kind, s.number, t.file, t.line,
    case when t.file is not null then 'put the channel on another source' end as says
from spans as s
{_SPLIT}
left join core_takes as t on s.number = t.take_no
order by s.channel, s.started_at_utc, s.kind, m.started_at_utc
"""
# Slices that touch, with the same machine behind the same feed, are one stretch of duty.
PROTECT = f"""
with
slices as (
    select
        *,
        case
            when lag(ended_at_utc) over stand = started_at_utc and lag(feed) over stand = feed then 0 else 1
        end as is_change
    from core_air_others
    where condition = 'covering'
    window stand as (partition by channel, piece_started_at_utc, machine order by started_at_utc)
),
numbered as (
    select
        *,
        sum(is_change) over (
            partition by channel, piece_started_at_utc, machine order by started_at_utc
            rows between unbounded preceding and current row
        ) as stand_no
    from slices
),
spans as (
    select
        channel, transmission, machine, feed, min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc
    from numbered
    group by channel, transmission, piece_started_at_utc, machine, feed, stand_no
)
select
    {_PARTS}
    s.machine,
    'good and in step behind ' || s.feed || ' (transmission ' || s.transmission || ')' as what,
    'protect' as kind, cast(null as bigint) as number
from spans as s
{_SPLIT}
order by s.channel, s.started_at_utc, s.machine, m.started_at_utc
"""
COVER_LOSSES = f"""
with lost as (
    select c.channel, c.machine, c.transmission, c.feed, n.started_at_utc as at_utc
    from core_air_others as c
    inner join core_air_segments as n
        on c.channel = n.channel
        and c.piece_started_at_utc = n.piece_started_at_utc
        and c.ended_at_utc = n.started_at_utc
        and c.feed = n.feed
    inner join core_air_states as a
        on n.channel = a.channel and n.started_at_utc = a.started_at_utc and a.state in ('unproved', 'exposed')
    inner join core_air_others as o
        on n.channel = o.channel and n.started_at_utc = o.started_at_utc and c.machine = o.machine
    where c.condition = 'covering' and o.condition <> 'covering'
)
select
    s.at_utc as started_at_utc, cast(null as timestamp) as ended_at_utc, 1 as amount, m.month, s.channel, s.machine,
    'cover lost behind ' || s.feed || ' (transmission ' || s.transmission || ')' as what,
    'cover loss' as kind, cast(null as bigint) as number
from lost as s
{_PLACED}
order by s.channel, s.at_utc, s.machine
"""
INTERRUPTIONS = f"""
with interruptions as (select *, started_at_utc as at_utc from core_interruptions)
select
    s.started_at_utc, s.ended_at_utc, 1 as amount, m.month, s.channel, s.machine,
    'interruption' || case when s.machine is null then ', began on standby' else '' end
    || case when s.is_open then ', cut short' else '' end
    || ' (transmission ' || s.transmission || ')' as what,
    'interruption' as kind, s.interruption_no as number
from interruptions as s
{_PLACED}
order by s.channel, s.at_utc
"""
SWITCHES = f"""
select
    s.at_utc as started_at_utc, s.completed_at_utc as ended_at_utc, 1 as amount, m.month, s.channel,
    s.from_machine as machine,
    s.kind || ' switch from ' || s.from_machine || ' to ' || s.to_machine
    || ' (transmission ' || s.transmission || ')' as what,
    'switch' as kind, s.switch_no as number, s.kind as switch_kind, s.is_protect
from core_switches as s
{_PLACED}
order by s.channel, s.at_utc, s.switch_no
"""
DEMANDS = f"""
select
    s.at_utc as started_at_utc, i.ended_at_utc, 1 as amount, m.month, s.channel, s.machine,
    case when s.interruption_no is null then 'rescue by another source' else 'demand on protect' end
    || case when s.is_met then ', met' when s.is_healed then ', healed without a take' else ', not met' end
    || case when s.is_unprotected then ', no protect there' else '' end
    || ' (transmission ' || s.transmission || ')' as what,
    'demand' as kind, s.interruption_no as number, s.is_met, s.is_healed, s.is_unprotected
from core_demands as s
left join core_interruptions as i on s.interruption_no = i.interruption_no
{_PLACED}
order by s.channel, s.at_utc
"""
# Each recovery with the times that apply to it; the months are those of the recovery's own beginning.
RECOVERIES = f"""
with
services as (
    select
        k.recovery_no, t.opened_at_utc, t.restored_at_utc is not null as is_restored, t.ticket, t.file, t.line,
        coalesce(t.restored_at_utc, t.closed_at_utc, greatest(a.as_of_at_utc, t.opened_at_utc)) as served_at_utc
    from measure_ticket_matches as k
    inner join clean_tickets as t on k.ticket = t.ticket
    cross join core_as_of as a
    where coalesce(t.restored_at_utc, t.closed_at_utc, t.opened_at_utc) >= t.opened_at_utc
),
recoveries as (select *, started_at_utc as at_utc from core_recoveries)
select
    s.recovery_no as number, m.month, s.channel, s.machine, 'recovery' as kind, s.transmission,
    s.started_at_utc as air_from_utc, s.ended_at_utc as air_until_utc, s.onset_at_utc,
    cast(round(s.to_air_s * 1000000) as bigint) as to_air_us, s.is_back,
    cast(round(s.to_take_s * 1000000) as bigint) as to_take_us, s.is_taken,
    cast(round(s.to_cover_s * 1000000) as bigint) as to_cover_us, s.is_covered_again,
    v.opened_at_utc, v.ticket, date_diff('microsecond', v.opened_at_utc, v.served_at_utc) as to_service_us,
    v.is_restored, v.file, v.line, 'ticket ' || v.ticket as says
from recoveries as s
{_PLACED}
left join services as v on s.recovery_no = v.recovery_no
order by s.recovery_no
"""

# figure -> the select it is added up from, and which of its rows count
SECONDS: dict[str, tuple[str, str]] = {
    "air_s": (AIR, ""),
    "lost_s": (AIR, "state = 'lost'"),
    "unknown_s": (AIR, "state = 'unknown'"),
    "covered_s": (AIR, "state = 'covered'"),
    "unproved_s": (AIR, "state = 'unproved'"),
    "exposed_s": (AIR, "state = 'exposed'"),
    "exposed_none_booked_s": (AIR, "exposed_why = 'none booked'"),
    "exposed_not_good_s": (AIR, "exposed_why = 'not good'"),
    "exposed_out_of_step_s": (AIR, "exposed_why = 'out of step'"),
    "elsewhere_s": (AIR, "is_elsewhere"),
    "rescued_s": (AROUND, "kind = 'rescue'"),
    "overrun_s": (AROUND, "kind = 'overrun'"),
    "protect_s": (PROTECT, ""),
}
COUNTS: dict[str, tuple[str, str]] = {
    "interruptions": (INTERRUPTIONS, ""),
    "forced": (SWITCHES, "switch_kind = 'forced'"),
    "precaution": (SWITCHES, "switch_kind = 'precaution'"),
    "unexplained": (SWITCHES, "switch_kind = 'unexplained'"),
    "planned": (SWITCHES, "switch_kind = 'planned'"),
    "return": (SWITCHES, "switch_kind = 'return'"),
    "protect_switches": (SWITCHES, "is_protect"),
    "demands": (DEMANDS, ""),
    "demands_met": (DEMANDS, "is_met"),
    "demands_healed": (DEMANDS, "is_healed"),
    "demands_unprotected": (DEMANDS, "is_unprotected"),
    "cover_losses": (COVER_LOSSES, ""),
}
# time to recover -> the flag that its end was seen, and the instant it runs from
TIMES = {
    "to_air_s": ("is_back", "air_from_utc"),
    "to_take_s": ("is_taken", "onset_at_utc"),
    "to_cover_s": ("is_covered_again", "onset_at_utc"),
    "to_service_s": ("is_restored", "opened_at_utc"),
}
