-- Every time protect was needed: interruptions that begin with the feeding machine known not good, and rescues by
-- another source that no such interruption leads into, once a take.
-- grain: one demand
-- key: channel, at_utc
-- reads: core_interruptions, core_rescues, core_members, core_air_spans
with
interruptions as (select * from core_interruptions where is_demand),
numbered as (
    select *, row_number() over (partition by channel, take_no order by started_at_utc) as nth_of_take from core_rescues
),
rescues as (
    select r.*
    from numbered as r
    where r.nth_of_take = 1 and not exists (
        select 1
        from interruptions as i
        inner join core_air_spans as l
            on i.channel = l.channel
            and l.state = 'lost'
            and l.started_at_utc >= i.started_at_utc
            and l.ended_at_utc <= i.ended_at_utc
        where i.channel = r.channel and l.ended_at_utc = r.stay_started_at_utc
    )
),
alone as (
    select
        r.*,
        not exists (
            select 1
            from core_members as m
            where m.channel = r.channel
                and m.transmission = r.transmission
                and m.machine <> coalesce(r.machine, '')
                and m.started_at_utc <= r.started_at_utc
                and m.ended_at_utc > r.started_at_utc
        ) as is_unprotected
    from rescues as r
),
demands as (
    select channel, transmission, started_at_utc as at_utc, machine, interruption_no, is_met, is_healed, is_unprotected
    from interruptions
    union all
    select channel, transmission, started_at_utc, machine, null, false, false, is_unprotected
    from alone
)
select * from demands
