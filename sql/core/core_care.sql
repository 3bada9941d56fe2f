-- The latest care of a machine when a chain of uses was due: when it was last cleaned, lined up and given a head, since
-- when it had been heard with no silence longer than the carry (null: since its first line, so from when is not known),
-- and how long it had rolled since that head was fitted. A stamp may lie before the use before: see core_uses.
-- grain: one chain of uses of a machine
-- key: machine, care_until_utc
-- reads: core_use_spans, core_word_rows, core_machine_moments, core_rolling_spans, core_settings
with
uses as (select * from core_use_spans),
settings as (select * from core_settings),
told as (select * from core_word_rows where event in ('clean', 'lineup', 'head_fitted')),
words as (
    select
        machine,
        at_utc,
        event_no,
        case when event = 'clean' then at_utc end as clean_at_utc,
        case when event = 'lineup' then at_utc end as lineup_at_utc,
        case when event = 'head_fitted' then at_utc end as fitted_at_utc,
        null as woke_at_utc
    from told
    union all
    select m.machine, m.next_at_utc, m.moment_no, null, null, null, m.next_at_utc
    from core_machine_moments as m
    cross join settings as s
    where m.next_at_utc - m.heard_until_utc > s.carry_time
    union all
    select distinct machine, care_until_utc, null, null, null, null, null from uses
),
cared as (
    select
        machine,
        at_utc as care_until_utc,
        event_no,
        max(clean_at_utc) over so_far as cleaned_at_utc,
        max(lineup_at_utc) over so_far as lined_up_at_utc,
        max(fitted_at_utc) over so_far as fitted_at_utc,
        max(woke_at_utc) over so_far as woke_at_utc
    from words
    window so_far as (
        partition by machine order by at_utc, event_no nulls last rows between unbounded preceding and current row
    )
),
questions as (
    select machine, care_until_utc as at_utc from cared where event_no is null
    union
    select machine, fitted_at_utc from cared where event_no is null and fitted_at_utc is not null
),
metered as (
    select
        machine,
        at_utc,
        is_question,
        sum(length_us) over so_far as begun_us,
        max(ended_at_utc) over so_far as last_ended_at_utc
    from (
        select
            machine,
            started_at_utc as at_utc,
            false as is_question,
            date_diff('microsecond', started_at_utc, ended_at_utc) as length_us,
            ended_at_utc
        from core_rolling_spans
        union all
        select machine, at_utc, true, 0, null from questions
    ) as rolls_and_questions
    window so_far as (partition by machine order by at_utc, is_question rows between unbounded preceding and current row)
),
meters as (
    select
        machine,
        at_utc,
        begun_us - coalesce(greatest(0, date_diff('microsecond', at_utc, last_ended_at_utc)), 0) as rolled_us
    from metered
    where is_question
),
facts as (
    select
        c.machine,
        c.care_until_utc,
        c.cleaned_at_utc,
        c.lined_up_at_utc,
        c.fitted_at_utc,
        c.woke_at_utc,
        (n.rolled_us - f.rolled_us) / 3600000000.0 as head_h
    from cared as c
    inner join meters as n on c.machine = n.machine and c.care_until_utc = n.at_utc
    left join meters as f on c.machine = f.machine and c.fitted_at_utc = f.at_utc
    where c.event_no is null
)
select * from facts
