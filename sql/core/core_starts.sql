-- Each fresh start of a machine, with how long it took to lock and the first offset logged before it stopped. Null: none
-- was logged in that run. A roll of a machine that rolls already is no start; a lock after a lost one does not count.
-- grain: one roll that starts a machine afresh
-- key: machine, at_utc, run_no
-- reads: core_machine_moments, core_word_rows
-- renewed: by machine
with
moments as (select * from core_machine_moments where is_rolling),
offsets as (select event_no, value from core_word_rows where event = 'offset' and value is not null),
runs as (
    select
        m.machine,
        m.run_no,
        min(m.at_utc) as at_utc,
        min(case when m.event = 'lock' then m.at_utc end) as locked_at_utc,
        min(o.event_no) as offset_no
    from moments as m
    left join offsets as o on m.event_no = o.event_no
    group by m.machine, m.run_no
),
starts as (
    select
        r.machine,
        r.run_no,
        r.at_utc,
        date_diff('microsecond', r.at_utc, r.locked_at_utc) * 0.000001 as lock_s,
        o.value as first_offset_s
    from runs as r
    left join offsets as o on r.offset_no = o.event_no
)
select * from starts
