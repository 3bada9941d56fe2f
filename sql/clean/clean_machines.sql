-- The rows of machines that count: one a machine, the last word on it.
-- grain: one machine
-- key: machine
-- reads: clean_machine_rows
with
rows_placed as (select * from clean_machine_rows),
kept as (select * exclude (place) from rows_placed where place = 'kept')
select * from kept
