-- What a machine's log is in the habit of saying: `lock` (else it counts as locked while it rolls), and `alive` (else its
-- silence says nothing).
-- grain: one machine with a line
-- key: machine
-- reads: core_word_rows, core_heard_spans
with
locking as (select distinct machine from core_word_rows where event = 'lock'),
heard as (select machine, sum(alive_count) > 0 as logs_alive from core_heard_spans group by machine),
habits as (
    select h.machine, l.machine is not null as logs_lock, h.logs_alive
    from heard as h
    left join locking as l on h.machine = l.machine
)
select * from habits
