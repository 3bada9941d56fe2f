-- Lost air on a channel, joined where it lies closer than the merge gap, across pieces too, but not across what a
-- ruling says is no air.
-- grain: one joined stretch
-- key: channel, started_at_utc
-- reads: core_air_spans, core_not_air, core_settings
with
lost as (select * from core_air_spans where state = 'lost'),
settings as (select * from core_settings),
followed as (
    select
        l.*,
        lag(l.ended_at_utc) over (partition by l.channel order by l.started_at_utc) as last_ended_at_utc
    from lost as l
),
spaced as (
    select
        f.*,
        exists (
            select 1
            from core_not_air as n
            where n.channel = f.channel
                and n.started_at_utc >= f.last_ended_at_utc
                and n.ended_at_utc <= f.started_at_utc
        ) as is_parted
    from followed as f
),
numbered as (
    select
        p.*,
        sum(case
            when p.started_at_utc = p.last_ended_at_utc then 0
            when p.is_parted then 1
            when p.started_at_utc < p.last_ended_at_utc + s.merge_gap_time then 0
            else 1
        end) over (
            partition by p.channel order by p.started_at_utc rows between unbounded preceding and current row
        ) as group_no
    from spaced as p
    cross join settings as s
),
grouped as (
    select
        channel,
        min(started_at_utc) as started_at_utc,
        max(ended_at_utc) as ended_at_utc,
        sum(date_diff('microsecond', started_at_utc, ended_at_utc)) * 0.000001 as lost_s,
        arg_min(transmission, started_at_utc) as transmission,
        arg_min(feed, started_at_utc) as first_feed,
        min(piece_started_at_utc) as piece_started_at_utc,
        arg_max(piece_started_at_utc, started_at_utc) as last_piece_started_at_utc,
        arg_max(transmission, started_at_utc) as last_transmission
    from numbered
    group by channel, group_no
)
select * from grouped
