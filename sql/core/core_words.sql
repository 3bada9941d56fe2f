-- What the logs say, each word with how well its stamp is known. The ± is that of the whole stretch of the machine's clock
-- and so changes with every day that the stretch goes on; the words themselves do not.
-- grain: one kept event row that is not `alive`
-- key: event_no
-- reads: core_word_rows, raw_clock_segments
-- stored: as a view
with
rows_kept as (select * from core_word_rows),
segments as (select * from raw_clock_segments),
words as (
    select
        r.event_no,
        r.machine,
        r.at_utc,
        r.stamped_at_utc,
        r.at_text,
        s.within_s,
        r.event,
        r.value,
        r.detail,
        r.is_ambiguous,
        r.file,
        r.line
    from rows_kept as r
    left join segments as s
        on r.machine = s.machine
        and (s.started_at_utc is null or r.stamped_at_utc >= s.started_at_utc)
        and (s.ended_at_utc is null or r.stamped_at_utc < s.ended_at_utc)
)
select * from words
