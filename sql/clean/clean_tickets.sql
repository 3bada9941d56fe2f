-- The rows of tickets that count: one a ticket, the last word on it.
-- grain: one ticket
-- key: ticket
-- reads: clean_ticket_rows
with
rows_placed as (select * from clean_ticket_rows),
kept as (select * exclude (place) from rows_placed where place = 'kept')
select * from kept
