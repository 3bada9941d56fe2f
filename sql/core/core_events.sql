-- Machine events on the house clock, numbered so that the order of lines in a file decides nothing.
-- Equal stamps on a machine: stop, roll, unlock, lock, lost, back, then the rest by word, detail and value.
-- grain: one kept event row
-- key: event_no
-- reads: clean_events, raw_clock_segments
with
events as (select * from clean_events),
segments as (select * from raw_clock_segments),
placed as (
    select
        e.*,
        s.within_s,
        case
            when s.is_corrected
            then cast(round((
                s.offset_s
                + s.drift_ppm / (1000000.0 + s.drift_ppm)
                * date_diff('microsecond', s.reference_at_utc, e.stamped_at_utc) / 1000000.0
            ) * 1000000) as bigint)
            else 0
        end as fast_us
    from events as e
    left join segments as s
        on e.machine = s.machine
        and (s.started_at_utc is null or e.stamped_at_utc >= s.started_at_utc)
        and (s.ended_at_utc is null or e.stamped_at_utc < s.ended_at_utc)
),
ranked as (
    select
        *,
        stamped_at_utc - to_microseconds(fast_us) as at_utc,
        case
            when event = 'stop' then 1
            when event = 'roll' then 2
            when event = 'unlock' then 3
            when event = 'lock' then 4
            when event in ('picture_lost', 'sound_lost') then 5
            when event in ('picture_back', 'sound_back') then 6
            else 7
        end as event_rank
    from placed
),
numbered as (
    select
        row_number() over (
            order by machine, at_utc, event_rank, event, detail nulls first, value nulls first, file, line
        ) as event_no,
        machine,
        at_utc,
        stamped_at_utc,
        within_s,
        event,
        value,
        detail,
        is_ambiguous,
        file,
        line
    from ranked
)
select * from numbered
