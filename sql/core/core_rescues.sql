-- Air taken over by another source: feed on `other` that follows not-good air or was taken with the reason fault. It
-- belongs to the machine last fed: in the piece, else the one that its take left, else the last on the channel.
-- What a ruling says is no air is cut out of it; `stay_started_at_utc` is when the stay on `other` began.
-- grain: one unbroken part of a stay on `other`
-- key: channel, started_at_utc
-- reads: core_feed, core_takes, core_air_spans, core_not_air
with
stays as (
    select
        *,
        lag(feed) over (partition by channel, piece_started_at_utc order by stay_no) as feed_before,
        last_value(case when feed not in ('standby', 'other') then feed end ignore nulls) over (
            partition by channel, piece_started_at_utc order by stay_no
            rows between unbounded preceding and current row
        ) as last_machine,
        last_value(case when feed not in ('standby', 'other') then feed end ignore nulls) over (
            partition by channel order by piece_started_at_utc, stay_no
            rows between unbounded preceding and current row
        ) as last_machine_on_channel
    from core_feed
),
numbered as (
    select
        *,
        sum(case when feed_before = 'other' then 0 else 1 end) over (
            partition by channel, piece_started_at_utc order by stay_no
            rows between unbounded preceding and current row
        ) as away_no
    from stays
    where feed = 'other'
),
away as (
    select
        channel,
        transmission,
        piece_started_at_utc,
        arg_min(put_there_by, stay_no) as take_no,
        arg_min(last_machine, stay_no) as last_machine,
        arg_min(last_machine_on_channel, stay_no) as last_machine_on_channel,
        min(started_at_utc) as started_at_utc,
        max(ended_at_utc) as ended_at_utc
    from numbered
    group by channel, transmission, piece_started_at_utc, away_no
),
before_it as (
    select
        a.*,
        coalesce(
            a.last_machine,
            case when t.from_machine not in ('standby', 'other') then t.from_machine end,
            a.last_machine_on_channel
        ) as machine,
        coalesce(t.reason = 'fault', false) as is_for_fault,
        b.state is not null as follows_lost_air
    from away as a
    left join core_takes as t on a.take_no = t.take_no
    left join core_air_spans as b
        on a.channel = b.channel
        and a.piece_started_at_utc = b.piece_started_at_utc
        and b.ended_at_utc = a.started_at_utc
        and b.state = 'lost'
    where a.ended_at_utc > a.started_at_utc
),
whole as (
    select *, started_at_utc as stay_started_at_utc, ended_at_utc as stay_ended_at_utc
    from before_it
    where is_for_fault or follows_lost_air
),
edges as (
    select channel, stay_started_at_utc, stay_started_at_utc as at_utc from whole
    union
    select w.channel, w.stay_started_at_utc, unnest([n.started_at_utc, n.ended_at_utc])
    from whole as w
    inner join core_not_air as n
        on w.channel = n.channel
        and n.started_at_utc < w.stay_ended_at_utc
        and n.ended_at_utc > w.stay_started_at_utc
),
parts as (
    select
        w.* exclude (started_at_utc, ended_at_utc),
        e.at_utc as started_at_utc,
        coalesce(
            lead(e.at_utc) over (partition by e.channel, e.stay_started_at_utc order by e.at_utc), w.stay_ended_at_utc
        ) as ended_at_utc
    from edges as e
    inner join whole as w on e.channel = w.channel and e.stay_started_at_utc = w.stay_started_at_utc
    where e.at_utc >= w.stay_started_at_utc and e.at_utc < w.stay_ended_at_utc
),
rescues as (
    select
        p.channel,
        p.transmission,
        p.piece_started_at_utc,
        p.started_at_utc,
        p.ended_at_utc,
        p.stay_started_at_utc,
        p.machine,
        p.take_no
    from parts as p
    left join core_not_air as n
        on p.channel = n.channel and n.started_at_utc <= p.started_at_utc and n.ended_at_utc > p.started_at_utc
    where n.channel is null
)
select * from rescues
