-- When each machine was heard, whatever it said, with no longer wait between two lines than the shortest that counts: the
-- lead or the carry, and of a machine that logs `alive` also the silence. A single line is a span of no length.
-- grain: one unbroken span of lines of a machine
-- key: machine, first_at_utc
-- reads: core_heard_stretches, site_settings
-- renewed: from what was touched
with
stretches as (select * from core_heard_stretches),
settings as (
    select
        cast(round(least(lead_s, carry_s) * 1000000) as bigint) as wait_us,
        cast(round(least(lead_s, carry_s, silence_s) * 1000000) as bigint) as alive_wait_us
    from site_settings
),
living as (select machine, max(alive_count) > 0 as logs_alive from stretches group by machine),
followed as (
    select
        t.*,
        case when l.logs_alive then s.alive_wait_us else s.wait_us end as wait_us,
        lag(t.last_at_utc) over (partition by t.machine order by t.first_at_utc) as heard_at_utc
    from stretches as t
    inner join living as l on t.machine = l.machine
    cross join settings as s
),
numbered as (
    select
        *,
        sum(case
            when heard_at_utc is null or date_diff('microsecond', heard_at_utc, first_at_utc) > wait_us then 1 else 0
        end) over (
            partition by machine order by first_at_utc rows between unbounded preceding and current row
        ) as span_no
    from followed
),
spans as (
    select
        machine,
        min(first_at_utc) as first_at_utc,
        max(last_at_utc) as last_at_utc,
        cast(sum(lines_count) as bigint) as lines_count,
        cast(sum(alive_count) as bigint) as alive_count,
        max(most_corrected_us) as most_corrected_us
    from numbered
    group by machine, span_no
)
select * from spans
