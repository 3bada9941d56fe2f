-- The selector rows that count: where rotated files bring the same row again, the first by file and line.
-- grain: one kept switch row
-- key: file, line
-- reads: raw_switches
with
switches as (select * from raw_switches),
numbered as (
    select
        *,
        row_number() over (
            partition by at_utc, action, channel, from_machine, to_machine, reason, taken_by, extra
            order by file, line
        ) as copy_no
    from switches
),
kept as (select * exclude (copy_no) from numbered where copy_no = 1)
select * from kept
