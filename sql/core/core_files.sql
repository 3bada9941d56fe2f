-- The account of every file: rows read = kept + repeats + set aside.
-- grain: one source file
-- key: file
-- reads: source_files, raw_events, raw_switches, raw_tickets, raw_bookings, raw_machines, raw_reels, raw_rulings, clean_events, clean_switches, clean_tickets, clean_bookings, clean_machines, clean_reels, clean_rulings, core_set_aside
with
files as (select * from source_files),
readable as (
    select file from raw_events
    union all select file from raw_switches
    union all select file from raw_tickets
    union all select file from raw_bookings
    union all select file from raw_machines
    union all select file from raw_reels
    union all select file from raw_rulings
),
kept as (
    select file from clean_events
    union all select file from clean_switches
    union all select file from clean_tickets
    union all select file from clean_bookings
    union all select file from clean_machines
    union all select file from clean_reels
    union all select file from clean_rulings
),
marked as (
    select file, 1 as readable, 0 as kept, 0 as aside, 0 as superseded from readable
    union all
    select file, 0, 1, 0, 0 from kept
    union all
    select file, 0, 0, 1, case when reason like 'superseded:%' then 1 else 0 end from core_set_aside
),
counted as (
    select
        file,
        sum(kept) as kept_count,
        sum(readable) - sum(superseded) - sum(kept) as repeat_count,
        sum(aside) as set_aside_count
    from marked
    group by file
),
accounted as (
    select
        f.file,
        f.feed,
        f.format,
        f.sha256,
        f.size_bytes,
        f.missing_columns,
        f.read_count,
        cast(coalesce(c.kept_count, 0) as bigint) as kept_count,
        cast(coalesce(c.repeat_count, 0) as bigint) as repeat_count,
        cast(coalesce(c.set_aside_count, 0) as bigint) as set_aside_count
    from files as f
    left join counted as c on f.file = c.file
)
select * from accounted
