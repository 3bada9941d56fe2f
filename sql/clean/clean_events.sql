-- The event rows that count: where rotated files bring the same row again, the first by file and line.
-- grain: one kept event row
-- key: file, line
-- reads: raw_events
with
events as (select * from raw_events),
numbered as (
    select
        *,
        row_number() over (
            partition by stamped_at_utc, machine, event, value, detail, extra
            order by file, line
        ) as copy_no
    from events
),
kept as (select * exclude (copy_no) from numbered where copy_no = 1)
select * from kept
