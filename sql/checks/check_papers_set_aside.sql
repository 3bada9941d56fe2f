-- Feeds beside air time, with more than 5 % of their rows, and at least 20, unreadable.
-- grain: one feed
-- key: feed
-- reads: core_files, core_set_aside
with
files as (select * from core_files where feed in ('tickets', 'machines', 'reels', 'rulings')),
unreadable as (
    select feed, count(*) as aside_count
    from core_set_aside
    where
        reason not like 'superseded:%'
        and reason not like 'of no interest:%'
        and reason not like 'cancelled:%'
        and reason not like 'header:%'
    group by feed
),
counted as (select feed, sum(read_count) as read_count from files group by feed),
findings as (
    select
        c.feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        u.aside_count || ' of ' || c.read_count || ' rows of ' || c.feed || ' could not be read' as what
    from counted as c
    inner join unreadable as u on c.feed = u.feed
    where u.aside_count >= 20 and u.aside_count * 20 > c.read_count
)
select * from findings
