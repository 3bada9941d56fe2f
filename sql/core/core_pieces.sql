-- Air time by the clock: where windows overlap on a channel the later start has the time; cut at data-as-of.
-- grain: one unbroken piece of a window
-- key: channel, started_at_utc
-- reads: core_windows, core_as_of
with
windows as (select * from core_windows),
as_of as (select * from core_as_of),
edges as (
    select channel, started_at_utc as at_utc from windows
    union
    select channel, ended_at_utc from windows
),
slices as (
    select channel, at_utc as started_at_utc, lead(at_utc) over (partition by channel order by at_utc) as ended_at_utc
    from edges
),
claimed as (
    select
        s.channel,
        s.started_at_utc,
        s.ended_at_utc,
        w.transmission,
        w.started_at_utc as window_started_at_utc,
        w.ended_at_utc as window_ended_at_utc,
        row_number() over (
            partition by s.channel, s.started_at_utc order by w.started_at_utc desc, w.transmission desc
        ) as claim_no
    from slices as s
    inner join windows as w
        on s.channel = w.channel and w.started_at_utc <= s.started_at_utc and w.ended_at_utc >= s.ended_at_utc
),
owned as (
    select
        *,
        lag(ended_at_utc) over (
            partition by channel, transmission, window_started_at_utc order by started_at_utc
        ) as last_ended_at_utc
    from claimed
    where claim_no = 1
),
numbered as (
    select
        *,
        sum(case when last_ended_at_utc = started_at_utc then 0 else 1 end) over (
            partition by channel, transmission, window_started_at_utc order by started_at_utc
            rows between unbounded preceding and current row
        ) as piece_no
    from owned
),
joined as (
    select
        channel,
        transmission,
        window_started_at_utc,
        window_ended_at_utc,
        min(started_at_utc) as started_at_utc,
        max(ended_at_utc) as booked_ended_at_utc
    from numbered
    group by channel, transmission, window_started_at_utc, window_ended_at_utc, piece_no
),
cut as (
    select
        j.channel,
        j.transmission,
        j.window_started_at_utc,
        j.window_ended_at_utc,
        j.started_at_utc,
        least(j.booked_ended_at_utc, a.as_of_at_utc) as ended_at_utc,
        j.booked_ended_at_utc,
        j.booked_ended_at_utc > a.as_of_at_utc as is_cut
    from joined as j
    cross join as_of as a
    where j.started_at_utc < a.as_of_at_utc
)
select * from cut
