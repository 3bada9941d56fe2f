-- Every second of air time in exactly one state: equal neighbours joined, early ends taken off.
-- grain: one unbroken state of a channel's air
-- key: channel, started_at_utc
-- reads: core_air_states, core_early_ends
with
states as (
    select a.*
    from core_air_states as a
    left join core_early_ends as e on a.channel = e.channel and a.piece_started_at_utc = e.piece_started_at_utc
    where e.ended_early_at_utc is null or a.started_at_utc < e.ended_early_at_utc
),
changes as (
    select
        *,
        case
            when lag(ended_at_utc) over neighbours = started_at_utc
                and lag(state) over neighbours = state
                and lag(feed) over neighbours = feed
                and lag(is_elsewhere) over neighbours = is_elsewhere
                and lag(exposed_why) over neighbours is not distinct from exposed_why
            then 0 else 1
        end as is_change
    from states
    window neighbours as (partition by channel, piece_started_at_utc order by started_at_utc)
),
numbered as (
    select
        *,
        sum(is_change) over (
            partition by channel, piece_started_at_utc order by started_at_utc
            rows between unbounded preceding and current row
        ) as span_no
    from changes
),
spans as (
    select
        channel,
        transmission,
        piece_started_at_utc,
        min(started_at_utc) as started_at_utc,
        max(ended_at_utc) as ended_at_utc,
        feed,
        state,
        exposed_why,
        is_elsewhere
    from numbered
    group by channel, transmission, piece_started_at_utc, span_no, feed, state, exposed_why, is_elsewhere
)
select * from spans
