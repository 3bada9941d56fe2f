-- The selector's takes in order; equal stamps on a channel in the order in which each source follows the last.
-- grain: one take
-- key: take_no
-- reads: clean_switches, raw_take_order
with
takes as (select * from clean_switches where action = 'take'),
ties as (select * from raw_take_order),
numbered as (
    select
        row_number() over (
            order by
                t.channel, t.at_utc, coalesce(o.tie_rank, 0),
                t.from_machine nulls first, t.to_machine, t.reason nulls first, t.file, t.line
        ) as take_no,
        t.channel,
        t.at_utc,
        t.from_machine,
        t.to_machine,
        t.reason,
        t.taken_by,
        t.file,
        t.line
    from takes as t
    left join ties as o on t.file = o.file and t.line = o.line
)
select * from numbered
