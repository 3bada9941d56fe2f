-- Air time by the clock: where windows overlap on a channel the later start has the time; cut at data-as-of.
-- grain: one unbroken piece of a window
-- key: channel, started_at_utc
-- reads: core_windows, core_as_of
with
windows as (
    select *, row_number() over (partition by channel order by started_at_utc, transmission) as window_no
    from core_windows
),
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
-- The last window that had begun at each slice, and until when any of them goes: slices and windows in one order, so that
-- the work does not grow with their product. Mostly that window has the slice; else the last of those that still go on.
together as (
    select channel, started_at_utc, ended_at_utc, cast(null as bigint) as window_no, cast(null as timestamp) as until_utc
    from slices
    union all
    select channel, started_at_utc, null, window_no, ended_at_utc from windows
),
reached as (
    select
        channel,
        started_at_utc,
        ended_at_utc,
        max(window_no) over (
            partition by channel order by started_at_utc range between unbounded preceding and current row
        ) as window_no,
        max(until_utc) over (
            partition by channel order by started_at_utc range between unbounded preceding and current row
        ) as until_utc
    from together
),
offered as (
    select
        r.channel,
        r.started_at_utc,
        r.ended_at_utc,
        w.transmission,
        w.started_at_utc as window_started_at_utc,
        w.ended_at_utc as window_ended_at_utc,
        w.ended_at_utc >= r.ended_at_utc as is_on
    from reached as r
    inner join windows as w on r.channel = w.channel and r.window_no = w.window_no
    where r.ended_at_utc is not null and r.until_utc >= r.ended_at_utc
),
claimed as (
    select
        channel, started_at_utc, ended_at_utc, transmission, window_started_at_utc, window_ended_at_utc, 1 as claim_no
    from offered
    where is_on
    union all
    select
        o.channel,
        o.started_at_utc,
        o.ended_at_utc,
        w.transmission,
        w.started_at_utc,
        w.ended_at_utc,
        row_number() over (
            partition by o.channel, o.started_at_utc order by w.started_at_utc desc, w.transmission desc
        )
    from offered as o
    inner join windows as w
        on o.channel = w.channel and w.started_at_utc <= o.started_at_utc and w.ended_at_utc >= o.ended_at_utc
    where not o.is_on
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
