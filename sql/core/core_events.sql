-- Machine events on the house clock: every line of the logs that counts. Worked out whenever it is read: most lines are
-- `alive`, of which only the first and last of each stretch matter. What the others say is in core_words, in order.
-- Equal stamps on a machine: stop, roll, unlock, lock, lost, back, then the rest by word, detail and value.
-- grain: one kept event row
-- key: file, line
-- reads: clean_events, raw_clock_segments
-- stored: as a view
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
corrected as (
    select
        machine,
        stamped_at_utc - to_microseconds(fast_us) as at_utc,
        stamped_at_utc,
        at_text,
        within_s,
        event,
        case
            when event = 'stop' then 1
            when event = 'roll' then 2
            when event = 'unlock' then 3
            when event = 'lock' then 4
            when event in ('picture_lost', 'sound_lost') then 5
            when event in ('picture_back', 'sound_back') then 6
            else 7
        end as event_rank,
        value,
        detail,
        is_ambiguous,
        file,
        line
    from placed
)
select * from corrected
