-- Which recoveries each ticket could belong to: on the event's machine (after a failed demand on the protect machines
-- too), opened from a quarter of an hour before the onset to the ticket window after it.
-- grain: one ticket and one recovery it fits
-- key: ticket, recovery_no
-- reads: clean_tickets, core_recoveries, core_interruptions, core_members, core_settings
with
tickets as (select * from clean_tickets where opened_at_utc is not null),
settings as (select * from core_settings),
recoveries as (
    select r.*, coalesce(r.onset_at_utc, r.started_at_utc) as from_at_utc from core_recoveries as r
),
machines as (
    select recovery_no, machine from recoveries where machine is not null
    union
    select r.recovery_no, m.machine
    from recoveries as r
    inner join core_interruptions as i on r.interruption_no = i.interruption_no
    inner join core_members as m
        on i.channel = m.channel
        and i.transmission = m.transmission
        and m.started_at_utc <= i.started_at_utc
        and m.ended_at_utc > i.started_at_utc
    where i.is_demand and not i.is_met
),
offers as (
    select
        t.ticket,
        r.recovery_no,
        abs(date_diff('microsecond', r.from_at_utc, t.opened_at_utc)) * 0.000001 as gap_s
    from tickets as t
    cross join settings as s
    inner join machines as m on t.machine = m.machine
    inner join recoveries as r on m.recovery_no = r.recovery_no
    where t.opened_at_utc >= r.from_at_utc - interval 15 minute
        and t.opened_at_utc <= r.from_at_utc + s.ticket_window_time
)
select * from offers
