-- Takes and starts that name a machine which neither the register nor a booking nor a log line knows.
-- grain: one naming in one switch row
-- key: file, line, what
-- reads: clean_switches, clean_machines, clean_bookings, core_heard_spans
with
switches as (select * from clean_switches),
known as (
    select machine from clean_machines
    union
    select machine from clean_bookings
    union
    select machine from core_heard_spans
),
namings as (
    select file, line, channel, action, from_machine as machine from switches where action = 'take'
    union
    select file, line, channel, action, to_machine from switches
),
unknown as (
    select n.*
    from namings as n
    left join known as k on n.machine = k.machine
    where n.machine is not null and n.machine not in ('standby', 'other') and k.machine is null
),
findings as (
    select
        'switches' as feed,
        file,
        line,
        'a ' || action || ' on ' || channel || ' names "' || machine
        || '", which no register, booking or log knows' as what
    from unknown
)
select * from findings
