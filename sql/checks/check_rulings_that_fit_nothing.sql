-- Rulings that fit nothing, and so change nothing: each with the reason.
-- grain: one ruling
-- key: file, line
-- reads: measure_rulings
with
rulings as (select * from measure_rulings where not is_fitting),
findings as (
    select 'rulings' as feed, file, line, 'ruling "' || ruling || '": ' || why_not as what
    from rulings
)
select * from findings
