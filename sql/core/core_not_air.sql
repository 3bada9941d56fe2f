-- Time on a channel that a person ruled is no air. Of rulings that overlap the one that begins first has the time, so that
-- no second is taken out twice; one that lies wholly within others has no row.
-- grain: one ruling that takes time out
-- key: ruling
-- reads: clean_rulings
with
rulings as (
    select * from clean_rulings where rules = 'not air' and channel is not null and until_utc > at_utc
),
reached as (
    select
        *,
        max(until_utc) over (
            partition by channel order by at_utc, until_utc desc, ruling rows between unbounded preceding and 1 preceding
        ) as reached_at_utc
    from rulings
),
left_over as (
    select
        channel,
        greatest(at_utc, coalesce(reached_at_utc, at_utc)) as started_at_utc,
        until_utc as ended_at_utc,
        ruling
    from reached
),
stretches as (select * from left_over where ended_at_utc > started_at_utc)
select * from stretches
