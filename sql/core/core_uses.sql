-- Every use with the care before it and what went wrong in it. Cleaned and lined up: between the last use's end and when
-- this one (of a chain: its first) was due; null before the machine's first word of that kind, for nobody knows whether
-- it was logged. Heard before: since the first line after a silence longer than the carry, so it was on at least so long.
-- Head: rolled since the last `head_fitted`. Events: interruptions and protect switches of the machine in this
-- transmission, each once; and losses of lock, picture or sound while due and behind air.
-- grain: one use of a machine in a transmission
-- key: channel, transmission, machine
-- reads: core_use_spans, core_care, core_air_spans, core_recoveries, core_interruptions, core_fault_spans, core_machine_moments, core_switches
with
uses as (select * from core_use_spans),
air as (select * from core_air_spans where feed <> 'standby'),
fed as (
    select
        channel,
        transmission,
        feed as machine,
        sum(date_diff('microsecond', started_at_utc, ended_at_utc)) * 0.000001 as air_s
    from air
    group by channel, transmission, feed
),
recoveries as (
    select r.channel, coalesce(i.transmission, r.transmission) as transmission, r.machine, count(*) as recoveries_count
    from core_recoveries as r
    left join core_interruptions as i on r.interruption_no = i.interruption_no
    group by r.channel, coalesce(i.transmission, r.transmission), r.machine
),
losses as (
    select distinct f.machine, f.started_at_utc as at_utc
    from core_fault_spans as f
    inner join core_machine_moments as m on f.machine = m.machine and f.started_at_utc = m.at_utc
    where m.event in ('unlock', 'picture_lost', 'sound_lost')
),
behind as (
    select u.channel, u.transmission, u.machine, count(*) as losses_count
    from uses as u
    inner join losses as l
        on u.machine = l.machine and l.at_utc > u.due_at_utc and l.at_utc < u.ended_at_utc
    where not exists (
        select 1
        from air as a
        where a.feed = l.machine and a.started_at_utc <= l.at_utc and a.ended_at_utc > l.at_utc
    )
    group by u.channel, u.transmission, u.machine
),
switches as (
    select channel, transmission, from_machine as machine, count(*) as switches_count
    from core_switches
    where is_protect
    group by channel, transmission, from_machine
),
facts as (
    select
        u.channel,
        u.transmission,
        u.machine,
        u.started_at_utc,
        u.due_at_utc,
        u.ended_at_utc,
        u.is_continued,
        case
            when c.cleaned_at_utc is not null
            then c.cleaned_at_utc >= coalesce(u.care_from_utc, c.cleaned_at_utc)
        end as was_cleaned,
        case
            when c.lined_up_at_utc is not null
            then c.lined_up_at_utc >= coalesce(u.care_from_utc, c.lined_up_at_utc)
        end as was_lined_up,
        date_diff('microsecond', c.woke_at_utc, u.care_until_utc) * 0.000001 as heard_before_s,
        u.rolled_before_s,
        c.head_h,
        u.rolled_s,
        u.duty_s,
        coalesce(a.air_s, 0) as air_s,
        coalesce(r.recoveries_count, 0) as recoveries_count,
        coalesce(b.losses_count, 0) as losses_count,
        coalesce(r.recoveries_count, 0) + coalesce(b.losses_count, 0) as events_count,
        coalesce(w.switches_count, 0) as switches_count
    from uses as u
    inner join core_care as c on u.machine = c.machine and u.care_until_utc = c.care_until_utc
    left join fed as a on u.channel = a.channel and u.transmission = a.transmission and u.machine = a.machine
    left join recoveries as r on u.channel = r.channel and u.transmission = r.transmission and u.machine = r.machine
    left join behind as b on u.channel = b.channel and u.transmission = b.transmission and u.machine = b.machine
    left join switches as w on u.channel = w.channel and u.transmission = w.transmission and u.machine = w.machine
)
select * from facts
