-- Changes of feed inside a piece from one machine to another, each timed at its first take, also by way of standby; by
-- way of `other` there is none. The reason is the first that its takes state.
-- grain: one move from machine to machine
-- key: channel, completed_at_utc, take_no
-- reads: core_feed, core_takes
with
changes as (
    select
        f.*,
        t.reason,
        lag(f.feed) over (partition by f.channel, f.piece_started_at_utc order by f.stay_no) as previous_feed
    from core_feed as f
    left join core_takes as t on f.take_no = t.take_no
),
stays as (
    select
        *,
        lag(feed) over stay as feed_before,
        lag(feed, 2) over stay as feed_two_before,
        lag(started_at_utc) over stay as before_started_at_utc,
        lag(take_no) over stay as before_take_no,
        lag(reason) over stay as before_reason
    from changes
    where previous_feed is null or previous_feed <> feed
    window stay as (partition by channel, piece_started_at_utc order by stay_no)
),
moves as (
    select
        channel,
        transmission,
        piece_started_at_utc,
        case when feed_before = 'standby' then before_started_at_utc else started_at_utc end as at_utc,
        started_at_utc as completed_at_utc,
        case when feed_before = 'standby' then feed_two_before else feed_before end as from_machine,
        feed as to_machine,
        case when feed_before = 'standby' then coalesce(before_reason, reason) else reason end as reason,
        case when feed_before = 'standby' then before_take_no else take_no end as take_no
    from stays
    where feed not in ('standby', 'other')
),
between_machines as (
    select * from moves where from_machine not in ('standby', 'other') and from_machine <> to_machine
)
select * from between_machines
