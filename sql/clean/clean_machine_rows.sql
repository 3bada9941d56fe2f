-- Where each readable row of machines ends: kept, repeat of an equal row, or superseded by later words about the same machine.
-- grain: one readable row
-- key: file, line
-- reads: raw_machines
with
rows_read as (select * from raw_machines),
compared as (
    select
        *,
        row_number() over (partition by machine, kind, pair, machine_group, installed_at_utc, retired_at_utc, replacement_cost, extra order by file, line) as copy_no,
        rank() over (partition by machine order by kind, pair, machine_group, installed_at_utc, retired_at_utc, replacement_cost, extra) as content_no
    from rows_read
),
settled as (
    select
        *,
        last_value(content_no) over (
            partition by machine order by file, line
            rows between unbounded preceding and unbounded following
        ) as last_content_no
    from compared
),
placed as (
    select
        * exclude (copy_no, content_no, last_content_no),
        case
            when copy_no > 1 then 'repeat'
            when content_no = last_content_no then 'kept'
            else 'superseded'
        end as place
    from settled
)
select * from placed
