"""The selects of the months' pages that no other page needs: months and days, pairs, and what each file reaches."""

from __future__ import annotations

from pipeline.render.queries import REACHED

SITE_MONTHS = f"select month, started_at_utc, ended_at_utc from site_months {REACHED} order by month"
MONTH_DAYS = f"""
with months as ({SITE_MONTHS})
select d.day, d.month, d.started_at_utc, d.ended_at_utc
from site_days as d
inner join months as m on d.month = m.month
order by d.day
"""
PARTNERS = "select machine, partner from core_partners order by machine"
# Air by day and pair, the pair's two machines in order of name; of a machine without partner by machine; of a room
# whose register has no pairs by channel. Air on standby belongs to no pair.
DAY_AIR = """
with
rooms as (select count(*) > 0 as has_pairs from core_partners),
placed as (
    select
        case when r.has_pairs then least(a.feed, p.partner) else a.channel end as row_name,
        case when r.has_pairs then greatest(a.feed, p.partner) end as second_name,
        a.state, a.started_at_utc, a.ended_at_utc
    from core_air_spans as a
    cross join rooms as r
    left join core_partners as p on a.feed = p.machine
    where a.feed <> 'standby' or not r.has_pairs
),
split as (
    select
        d.day, p.row_name, p.second_name, p.state,
        date_diff('microsecond', greatest(p.started_at_utc, d.started_at_utc), least(p.ended_at_utc, d.ended_at_utc))
            as part_us
    from placed as p
    inner join site_days as d on p.started_at_utc < d.ended_at_utc and p.ended_at_utc > d.started_at_utc
)
select
    day, row_name, second_name, sum(part_us) * 0.000001 as air_s,
    coalesce(sum(part_us) filter (where state = 'unknown'), 0) * 0.000001 as unknown_s
from split
group by day, row_name, second_name
order by day, row_name, second_name
"""
MONTH_MACHINES = """
select month, machine from metric_air where machine is not null and air_s > 0 group by month, machine
order by month, machine
"""
# The first and the last stamp that each file brought, as its rows were kept.
FILE_REACH = """
with
stamps as (
    select file, min(stamped_at_utc) as first_at_utc, max(stamped_at_utc) as last_at_utc from raw_events group by file
    union all
    select file, min(at_utc), max(at_utc) from raw_switches group by file
    union all
    select file, min(opened_at_utc), max(coalesce(closed_at_utc, restored_at_utc, opened_at_utc))
    from raw_tickets group by file
    union all
    select file, min(started_at_utc), max(ended_at_utc) from raw_bookings group by file
)
select
    f.file, f.feed, f.kept_count, f.repeat_count, f.set_aside_count,
    min(s.first_at_utc) as first_at_utc, max(s.last_at_utc) as last_at_utc
from core_files as f
inner join stamps as s on f.file = s.file
group by f.file, f.feed, f.kept_count, f.repeat_count, f.set_aside_count
order by f.file
"""
MONTH_TABLES = {
    "site_months": SITE_MONTHS,
    "month_days": MONTH_DAYS,
    "partners": PARTNERS,
    "day_air": DAY_AIR,
    "month_machines": MONTH_MACHINES,
    "file_reach": FILE_REACH,
}
