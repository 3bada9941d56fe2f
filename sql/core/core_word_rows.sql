-- What the logs say, row by row: every event but `alive`, on the house clock, numbered so that the order of lines in a
-- file decides nothing: by time, machine and the order of equal stamps that core_events tells. Time comes first, so that
-- what a later day brings numbers nothing before it anew.
-- grain: one kept event row that is not `alive`
-- key: event_no
-- reads: core_events
-- renewed: from what was touched
with
events as (select * from core_events where event <> 'alive'),
numbered as (
    select
        row_number() over (
            order by at_utc, machine, event_rank, event, detail nulls first, value nulls first, file, line
        ) as event_no,
        machine,
        at_utc,
        stamped_at_utc,
        at_text,
        event,
        value,
        detail,
        is_ambiguous,
        file,
        line
    from events
)
select * from numbered
