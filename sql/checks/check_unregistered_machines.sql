-- Machines that are booked or logged and missing from the register, where there is one.
-- grain: one machine
-- key: what
-- reads: clean_machines, clean_bookings, core_heard_spans
with
register as (select machine from clean_machines),
used as (
    select machine from clean_bookings
    union
    select machine from core_heard_spans
),
missing as (
    select u.machine
    from used as u
    left join register as r on u.machine = r.machine
    where r.machine is null and exists (select 1 from register)
),
findings as (
    select
        'machines' as feed,
        cast(null as varchar) as file,
        cast(null as bigint) as line,
        '"' || machine || '" is booked or logged and not in the register' as what
    from missing
)
select * from findings
