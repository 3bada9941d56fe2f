-- Offsets between two machines, with the partner found: the one that detail names, else the registered one, else the
-- only other machine booked to the transmission at that instant. Without a partner or a value it proves nothing.
-- grain: one offset event
-- key: event_no
-- reads: core_word_rows, core_heard_spans, core_partners, core_booked_spans, clean_machines, clean_bookings, core_settings
with
offsets as (select * from core_word_rows where event = 'offset'),
settings as (select * from core_settings),
names as (
    select machine from core_heard_spans
    union
    select machine from clean_machines
    union
    select machine from clean_bookings
),
booked_with as (
    select o.event_no, min(other.machine) as partner
    from offsets as o
    inner join core_booked_spans as own
        on o.machine = own.machine and o.at_utc >= own.started_at_utc and o.at_utc < own.ended_at_utc
    inner join core_booked_spans as other
        on own.channel = other.channel
        and own.transmission = other.transmission
        and own.machine <> other.machine
        and o.at_utc >= other.started_at_utc
        and o.at_utc < other.ended_at_utc
    group by o.event_no
    having count(distinct other.machine) = 1
),
resolved as (
    select
        o.event_no,
        o.machine,
        coalesce(n.machine, p.partner, b.partner) as partner,
        o.at_utc,
        o.value as offset_s,
        abs(o.value) <= s.sync_tolerance_s + 0.000000001 as is_within,
        o.file,
        o.line
    from offsets as o
    cross join settings as s
    left join names as n on o.detail = n.machine and o.detail <> o.machine
    left join core_partners as p on o.machine = p.machine
    left join booked_with as b on o.event_no = b.event_no
)
select * from resolved
