-- When each machine was used for a transmission as air or protect: from its first roll for it to its last. Due: from when
-- its booking begins or it is named on the channel, and rolls; before that at most the lead counts as its own, and nothing
-- that another use has. Where two transmissions want a machine at once, the later has it from its beginning. A use that
-- begins before the machine has stopped from the one before continues it: both are one chain, cared for once.
-- grain: one use of a machine in a transmission
-- key: channel, transmission, machine
-- reads: clean_bookings, core_named, core_rolling_spans, core_settings
with
rolling as (select * from core_rolling_spans),
settings as (select * from core_settings),
wanted as (
    select channel, transmission, machine, started_at_utc, ended_at_utc
    from clean_bookings
    where role in ('air', 'protect')
    union all
    select channel, transmission, machine, at_utc, window_ended_at_utc from core_named
),
reached as (
    select
        *,
        max(ended_at_utc) over (
            partition by channel, transmission, machine order by started_at_utc, ended_at_utc
            rows between unbounded preceding and 1 preceding
        ) as reached_at_utc
    from wanted
),
numbered as (
    select
        *,
        sum(case when reached_at_utc is null or started_at_utc > reached_at_utc then 1 else 0 end) over (
            partition by channel, transmission, machine order by started_at_utc, ended_at_utc
            rows between unbounded preceding and current row
        ) as turn_no
    from reached
),
turns as (
    select channel, transmission, machine, min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc
    from numbered
    group by channel, transmission, machine, turn_no
),
shared as (
    select
        *,
        least(
            ended_at_utc,
            coalesce(
                lead(started_at_utc) over (
                    partition by machine order by started_at_utc, ended_at_utc, channel, transmission
                ),
                ended_at_utc
            )
        ) as left_at_utc
    from turns
),
own as (
    select
        h.channel,
        h.transmission,
        h.machine,
        h.started_at_utc,
        h.left_at_utc,
        greatest(
            h.started_at_utc - s.lead_time,
            coalesce(
                lag(h.left_at_utc) over (
                    partition by h.machine order by h.started_at_utc, h.ended_at_utc, h.channel, h.transmission
                ),
                h.started_at_utc - s.lead_time
            )
        ) as ready_at_utc
    from shared as h
    cross join settings as s
),
pieces as (
    select
        o.channel,
        o.transmission,
        o.machine,
        o.started_at_utc as due_at_utc,
        r.started_at_utc as rolled_at_utc,
        greatest(r.started_at_utc, o.ready_at_utc) as started_at_utc,
        least(r.ended_at_utc, o.left_at_utc) as ended_at_utc
    from own as o
    inner join rolling as r
        on o.machine = r.machine and r.started_at_utc < o.left_at_utc and r.ended_at_utc > o.ready_at_utc
),
used as (
    select
        channel,
        transmission,
        machine,
        min(rolled_at_utc) as rolled_at_utc,
        min(started_at_utc) as started_at_utc,
        greatest(min(due_at_utc), min(started_at_utc)) as due_at_utc,
        max(ended_at_utc) as ended_at_utc,
        sum(date_diff('microsecond', started_at_utc, ended_at_utc)) * 0.000001 as rolled_s,
        sum(greatest(0, date_diff('microsecond', greatest(started_at_utc, due_at_utc), ended_at_utc))) * 0.000001
            as duty_s,
        sum(greatest(0, date_diff('microsecond', started_at_utc, least(ended_at_utc, due_at_utc)))) * 0.000001
            as rolled_before_s
    from pieces
    group by channel, transmission, machine
),
followed as (
    select
        *,
        max(ended_at_utc) over (
            partition by machine order by started_at_utc, ended_at_utc, channel, transmission
            rows between unbounded preceding and 1 preceding
        ) as last_used_at_utc
    from used
),
chained as (
    select
        *,
        coalesce(rolled_at_utc < last_used_at_utc, false) as is_continued,
        sum(case when coalesce(rolled_at_utc < last_used_at_utc, false) then 0 else 1 end) over (
            partition by machine order by started_at_utc, ended_at_utc, channel, transmission
            rows between unbounded preceding and current row
        ) as chain_no
    from followed
),
spans as (
    select
        channel,
        transmission,
        machine,
        started_at_utc,
        due_at_utc,
        ended_at_utc,
        rolled_s,
        duty_s,
        rolled_before_s,
        is_continued,
        first_value(due_at_utc) over chain as care_until_utc,
        first_value(last_used_at_utc) over chain as care_from_utc
    from chained
    window chain as (
        partition by machine, chain_no order by started_at_utc, ended_at_utc, channel, transmission
        rows between unbounded preceding and current row
    )
)
select * from spans
