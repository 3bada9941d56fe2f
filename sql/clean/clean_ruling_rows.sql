-- Where each readable row of rulings ends: kept, repeat of an equal row, or superseded by later words about the same ruling.
-- grain: one readable row
-- key: file, line
-- reads: raw_rulings
with
rows_read as (select * from raw_rulings),
compared as (
    select
        *,
        row_number() over (partition by ruling, rules, channel, at_utc, until_utc, says, ruled_by, decided_at_utc, why, extra order by file, line) as copy_no,
        rank() over (partition by ruling order by rules, channel, at_utc, until_utc, says, ruled_by, decided_at_utc, why, extra) as content_no
    from rows_read
),
settled as (
    select
        *,
        last_value(content_no) over (
            partition by ruling order by file, line
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
