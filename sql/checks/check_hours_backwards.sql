-- Hour meters that read less than the time before.
-- grain: one hours event
-- key: file, line
-- reads: core_words
with
readings as (select * from core_words where event = 'hours' and value is not null),
compared as (
    select *, lag(value) over (partition by machine order by event_no) as last_value_h
    from readings
),
findings as (
    select
        'events' as feed,
        file,
        line,
        machine || ' reads ' || cast(value as varchar) || ' h after ' || cast(last_value_h as varchar) || ' h' as what
    from compared
    where value < last_value_h
)
select * from findings
