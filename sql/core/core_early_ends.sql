-- Where a programme ended early without being lost: lost air that begins in the tail with a stop or a planned standby
-- and lasts to the end of the piece. A piece cut by data-as-of has no such end.
-- grain: one piece that ended early
-- key: channel, piece_started_at_utc
-- reads: core_pieces, core_air_segments, core_word_rows, core_takes, core_settings
with
pieces as (select * from core_pieces where not is_cut),
settings as (select * from core_settings),
sound as (
    select channel, piece_started_at_utc, max(ended_at_utc) as ended_at_utc
    from core_air_segments
    where feed = 'other' or not (feed = 'standby' or coalesce(feed_state = 'not good', false))
    group by channel, piece_started_at_utc
),
lost as (
    select a.channel, a.piece_started_at_utc, min(a.started_at_utc) as started_at_utc
    from core_air_segments as a
    left join sound as s on a.channel = s.channel and a.piece_started_at_utc = s.piece_started_at_utc
    where s.channel is null or a.started_at_utc >= s.ended_at_utc
    group by a.channel, a.piece_started_at_utc
),
tails as (
    select
        p.channel,
        p.started_at_utc as piece_started_at_utc,
        p.ended_at_utc as piece_ended_at_utc,
        l.started_at_utc as ended_early_at_utc
    from pieces as p
    cross join settings as t
    inner join lost as l on p.channel = l.channel and p.started_at_utc = l.piece_started_at_utc
    where l.started_at_utc >= p.ended_at_utc - t.tail_time
),
feeds as (
    select t.*, a.feed
    from tails as t
    inner join core_air_segments as a on t.channel = a.channel and t.ended_early_at_utc = a.started_at_utc
),
early as (
    select f.channel, f.piece_started_at_utc, f.ended_early_at_utc
    from feeds as f
    where exists (
        select 1
        from core_word_rows as e
        where e.machine = f.feed and e.event = 'stop' and e.at_utc = f.ended_early_at_utc
    )
    or f.feed = 'standby' and exists (
        select 1
        from core_takes as k
        where k.channel = f.channel
            and k.at_utc = f.ended_early_at_utc
            and k.to_machine = 'standby'
            and k.reason = 'planned'
    )
)
select * from early
