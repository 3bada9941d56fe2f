-- The event rows that count: where rotated files bring the same row again, the first by file and line.
-- Which rows come again is found when they are loaded, over the time that changed.
-- grain: one kept event row
-- key: file, line
-- reads: raw_events, raw_event_repeats
-- stored: as a view
with
events as (select * from raw_events),
repeats as (select * from raw_event_repeats),
kept as (
    select *
    from events as e
    where not exists (select 1 from repeats as r where r.file = e.file and r.line = e.line)
)
select * from kept
