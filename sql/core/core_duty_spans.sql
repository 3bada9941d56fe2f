-- What each machine rolled for: every rolling second has one duty, the first of these that holds. Air: it feeds air time.
-- Protect: it is of a transmission that has air time just then. Record: booked to record, protect a recording or dub, or
-- between `record_on` and the `record_off` or end of its run. Other: the rest, as cueing, line-up and running on.
-- Only rolling counts: air fed by a machine not known to roll is in core_air_spans and not here.
-- grain: one unbroken duty of a machine
-- key: machine, started_at_utc
-- reads: core_rolling_spans, core_air_spans, core_members, core_machine_moments, clean_bookings
with
air as (select * from core_air_spans),
record_runs as (select distinct machine, run_no from core_machine_moments where event = 'record_on'),
record_words as (
    select
        m.machine,
        m.at_utc,
        m.next_at_utc,
        m.is_rolling,
        last_value(case when m.event in ('record_on', 'record_off') then m.event end ignore nulls) over (
            partition by m.machine, m.run_no order by m.moment_no rows between unbounded preceding and current row
        ) as record_word
    from core_machine_moments as m
    inner join record_runs as r on m.machine = r.machine and m.run_no = r.run_no
),
spans as (
    select machine, 'rolling' as kind, started_at_utc, ended_at_utc from core_rolling_spans
    union all
    select feed, 'air', started_at_utc, ended_at_utc from air where feed <> 'standby'
    union all
    select m.machine, 'protect', greatest(a.started_at_utc, m.started_at_utc), least(a.ended_at_utc, m.ended_at_utc)
    from air as a
    inner join core_members as m
        on a.channel = m.channel
        and a.transmission = m.transmission
        and m.started_at_utc < a.ended_at_utc
        and m.ended_at_utc > a.started_at_utc
    union all
    select machine, 'record', started_at_utc, ended_at_utc
    from clean_bookings
    where role in ('record', 'record_protect', 'dub')
    union all
    select machine, 'record', at_utc, next_at_utc from record_words where is_rolling and record_word = 'record_on'
),
edges as (
    select machine, kind, started_at_utc as at_utc, 1 as step from spans
    union all
    select machine, kind, ended_at_utc, -1 from spans where ended_at_utc is not null
),
steps as (
    select
        machine,
        at_utc,
        sum(case when kind = 'rolling' then step else 0 end) as rolling_step,
        sum(case when kind = 'air' then step else 0 end) as air_step,
        sum(case when kind = 'protect' then step else 0 end) as protect_step,
        sum(case when kind = 'record' then step else 0 end) as record_step
    from edges
    group by machine, at_utc
),
holding as (
    select
        machine,
        at_utc as started_at_utc,
        lead(at_utc) over (partition by machine order by at_utc) as ended_at_utc,
        sum(rolling_step) over so_far as rolling_count,
        sum(air_step) over so_far as air_count,
        sum(protect_step) over so_far as protect_count,
        sum(record_step) over so_far as record_count
    from steps
    window so_far as (partition by machine order by at_utc rows between unbounded preceding and current row)
),
slices as (
    select
        machine,
        started_at_utc,
        ended_at_utc,
        case
            when air_count > 0 then 'air'
            when protect_count > 0 then 'protect'
            when record_count > 0 then 'record'
            else 'other'
        end as duty
    from holding
    where rolling_count > 0
),
changes as (
    select
        *,
        case
            when lag(duty) over (partition by machine order by started_at_utc) = duty
                and lag(ended_at_utc) over (partition by machine order by started_at_utc) = started_at_utc
            then 0 else 1
        end as is_change
    from slices
),
numbered as (
    select
        *,
        sum(is_change) over (
            partition by machine order by started_at_utc rows between unbounded preceding and current row
        ) as span_no
    from changes
),
duty as (
    select machine, duty, min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc
    from numbered
    group by machine, duty, span_no
)
select * from duty
