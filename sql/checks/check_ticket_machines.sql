-- Tickets on no machine, or on one that no register, booking or log knows: they belong to no event.
-- grain: one ticket
-- key: file, line
-- reads: clean_tickets, clean_machines, clean_bookings, core_heard_spans
with
tickets as (select * from clean_tickets),
known as (
    select machine from clean_machines
    union
    select machine from clean_bookings
    union
    select machine from core_heard_spans
),
lost as (
    select t.*
    from tickets as t
    left join known as k on t.machine = k.machine
    where k.machine is null
),
findings as (
    select
        'tickets' as feed,
        file,
        line,
        'ticket "' || ticket || '" is on '
        || coalesce('"' || machine || '", which nothing else knows', 'no machine') as what
    from lost
)
select * from findings
