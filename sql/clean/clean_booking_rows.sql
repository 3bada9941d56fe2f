-- Where each readable row of bookings ends: kept, repeat of an equal row, or superseded by later words about the same booking.
-- grain: one readable row
-- key: file, line
-- reads: raw_bookings
with
rows_read as (select * from raw_bookings),
compared as (
    select
        *,
        row_number() over (partition by booking, transmission, channel, programme, "show", reel, machine, role, started_at_utc, ended_at_utc, extra order by file, line) as copy_no,
        rank() over (partition by booking order by transmission, channel, programme, "show", reel, machine, role, started_at_utc, ended_at_utc, extra) as content_no
    from rows_read
),
settled as (
    select
        *,
        last_value(content_no) over (
            partition by booking order by file, line
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
