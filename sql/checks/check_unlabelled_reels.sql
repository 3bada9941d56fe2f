-- Bookings of a reel that has no label, where labels are kept.
-- grain: one booking
-- key: file, line
-- reads: clean_bookings, clean_reels
with
bookings as (select * from clean_bookings where reel is not null),
reels as (select reel from clean_reels),
unlabelled as (
    select b.*
    from bookings as b
    left join reels as r on b.reel = r.reel
    where r.reel is null and exists (select 1 from reels)
),
findings as (
    select
        'bookings' as feed,
        file,
        line,
        'booking "' || booking || '" is of reel "' || reel || '", which has no label' as what
    from unlabelled
)
select * from findings
