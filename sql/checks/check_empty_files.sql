-- Files that hold no row: an export that failed, or a period in which nothing happened.
-- grain: one file
-- key: file
-- reads: core_files
with
files as (select * from core_files where read_count = 0),
findings as (
    select
        feed,
        file,
        cast(null as bigint) as line,
        file || ' holds no row' || case when size_bytes = 0 then ', it is empty' else '' end as what
    from files
)
select * from findings
