-- The rows of reels that count: one a reel, the last word on it.
-- grain: one reel
-- key: reel
-- reads: clean_reel_rows
with
rows_placed as (select * from clean_reel_rows),
kept as (select * exclude (place) from rows_placed where place = 'kept')
select * from kept
