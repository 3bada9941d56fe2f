-- What had to be recovered from: each interruption, as one with the first switch that leaves its machine, and each
-- protect switch outside one. What began on standby is judged at the take away from its machine.
-- grain: one interruption or protect switch
-- key: recovery_no
-- reads: core_interruptions, core_switches
with
interruptions as (select * from core_interruptions),
left_by as (
    select
        i.interruption_no,
        s.switch_no,
        s.from_machine,
        s.completed_at_utc,
        row_number() over (partition by i.interruption_no order by s.switch_no) as nth
    from interruptions as i
    inner join core_switches as s
        on i.channel = s.channel
        and s.at_utc >= i.started_at_utc
        and s.at_utc <= i.ended_at_utc
        and (i.machine is null or s.from_machine = i.machine)
),
events as (
    select
        i.interruption_no,
        l.switch_no,
        i.channel,
        i.last_transmission as transmission,
        i.piece_started_at_utc as first_piece_started_at_utc,
        i.last_piece_started_at_utc as piece_started_at_utc,
        coalesce(i.machine, l.from_machine) as machine,
        i.started_at_utc,
        i.ended_at_utc,
        s.at_utc as take_at_utc,
        case when i.machine is null then s.at_utc else i.started_at_utc end as judged_at_utc,
        greatest(i.ended_at_utc, coalesce(l.completed_at_utc, i.ended_at_utc)) as settled_at_utc,
        i.is_open
    from interruptions as i
    left join left_by as l on i.interruption_no = l.interruption_no and l.nth = 1
    left join core_switches as s on l.switch_no = s.switch_no
    union all
    select
        null,
        s.switch_no,
        s.channel,
        s.transmission,
        s.piece_started_at_utc,
        s.piece_started_at_utc,
        s.from_machine,
        s.at_utc,
        s.completed_at_utc,
        s.at_utc,
        s.at_utc,
        s.completed_at_utc,
        false
    from core_switches as s
    left join left_by as l on s.switch_no = l.switch_no and l.nth = 1
    where s.is_protect and l.switch_no is null
),
numbered as (
    select row_number() over (order by channel, started_at_utc, switch_no) as recovery_no, * from events
)
select * from numbered
