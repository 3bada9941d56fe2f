-- Every row that was read and does not count, with the reason, its place and its text as it stood in the file.
-- grain: one row set aside
-- key: file, line
-- reads: raw_set_aside, clean_ticket_rows, clean_booking_rows, clean_machine_rows, clean_reel_rows, clean_ruling_rows
with
unreadable as (select feed, file, line, reason, text from raw_set_aside),
superseded as (
    select 'tickets' as feed, file, line, text, 'ticket ' || ticket as id from clean_ticket_rows where place = 'superseded'
    union all
    select 'bookings', file, line, text, 'booking ' || booking from clean_booking_rows where place = 'superseded'
    union all
    select 'machines', file, line, text, 'machine ' || machine from clean_machine_rows where place = 'superseded'
    union all
    select 'reels', file, line, text, 'reel ' || reel from clean_reel_rows where place = 'superseded'
    union all
    select 'rulings', file, line, text, 'ruling ' || ruling from clean_ruling_rows where place = 'superseded'
),
both_kinds as (
    select feed, file, line, reason, text from unreadable
    union all
    select feed, file, line, 'superseded: a later row says something else of ' || id, text from superseded
)
select * from both_kinds
