-- Where each readable row of tickets ends: kept, repeat of an equal row, or superseded by later words about the same ticket.
-- grain: one readable row
-- key: file, line
-- reads: raw_tickets
with
rows_read as (select * from raw_tickets),
compared as (
    select
        *,
        row_number() over (partition by ticket, machine, opened_at_utc, restored_at_utc, closed_at_utc, symptom, cause, action, part, labour_h, parts_cost, reel, written_by, extra order by file, line) as copy_no,
        rank() over (partition by ticket order by machine, opened_at_utc, restored_at_utc, closed_at_utc, symptom, cause, action, part, labour_h, parts_cost, reel, written_by, extra) as content_no
    from rows_read
),
settled as (
    select
        *,
        last_value(content_no) over (
            partition by ticket order by file, line
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
