-- The rows of rulings that count: one a ruling, the last word on it.
-- grain: one ruling
-- key: ruling
-- reads: clean_ruling_rows
with
rows_placed as (select * from clean_ruling_rows),
kept as (select * exclude (place) from rows_placed where place = 'kept')
select * from kept
