-- Every slice of air time in exactly one of the five states, before the rule on early ends.
-- grain: one slice of air time
-- key: channel, started_at_utc
-- reads: core_air_segments, core_air_others
-- renewed: by piece
with
segments as (select * from core_air_segments where feed <> 'other'),
others as (
    select
        channel,
        started_at_utc,
        max(case when condition = 'covering' then 1 else 0 end) as is_covered,
        max(case when condition in ('not known', 'no offset') then 1 else 0 end) as is_unproved,
        max(case when condition = 'out of step' then 1 else 0 end) as is_out_of_step
    from core_air_others
    group by channel, started_at_utc
),
judged as (
    select
        s.channel,
        s.transmission,
        s.piece_started_at_utc,
        s.started_at_utc,
        s.ended_at_utc,
        s.feed,
        case
            when s.feed = 'standby' or s.feed_state = 'not good' then 'lost'
            when s.feed_state is null or s.feed_state = 'not known' then 'unknown'
            when o.is_covered = 1 then 'covered'
            when o.is_unproved = 1 then 'unproved'
            else 'exposed'
        end as state,
        case
            when o.channel is null then 'none booked'
            when o.is_out_of_step = 1 then 'out of step'
            else 'not good'
        end as why,
        s.feed <> 'standby' and not s.is_member as is_elsewhere
    from segments as s
    left join others as o on s.channel = o.channel and s.started_at_utc = o.started_at_utc
),
states as (select * exclude (why), case when state = 'exposed' then why end as exposed_why from judged)
select * from states
