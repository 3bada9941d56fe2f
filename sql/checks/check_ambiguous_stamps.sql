-- Stamps in the hour that local time goes through twice; the first of the two is taken.
-- grain: one event or switch row
-- key: feed, file, line
-- reads: clean_events, clean_switches
with
stamps as (
    select 'events' as feed, file, line, machine as whose, stamped_at_utc as at_utc from clean_events where is_ambiguous
    union all
    select 'switches', file, line, channel, at_utc from clean_switches where is_ambiguous
),
findings as (
    select
        feed,
        file,
        line,
        'the stamp of ' || whose || ' may also mean an hour later than ' || cast(at_utc as varchar) || ' UTC' as what
    from stamps
)
select * from findings
