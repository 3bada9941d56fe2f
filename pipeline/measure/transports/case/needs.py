"""How many machines the bookings need: the most that are booked at once, held against those that are owned."""

from __future__ import annotations

from typing import Any

from pipeline.store import Store

# Stretches of one machine's bookings are joined first, so that a machine booked twice at once is one machine.
BOOKED = """
with
booked as (
    select b.machine, m.machine_group, b.started_at_utc, b.ended_at_utc
    from clean_bookings as b
    left join clean_machines as m on b.machine = m.machine
    where b.machine is not null and b.ended_at_utc > b.started_at_utc and (? or b.role <> 'maintenance')
),
reached as (
    select
        *,
        max(ended_at_utc) over (
            partition by machine order by started_at_utc, ended_at_utc
            rows between unbounded preceding and 1 preceding
        ) as reached_at_utc
    from booked
),
numbered as (
    select
        *,
        sum(case when reached_at_utc >= started_at_utc then 0 else 1 end) over (
            partition by machine order by started_at_utc, ended_at_utc rows unbounded preceding
        ) as stretch_no
    from reached
),
stretches as (
    select
        machine, any_value(machine_group) as machine_group,
        min(started_at_utc) as started_at_utc, max(ended_at_utc) as ended_at_utc
    from numbered
    group by machine, stretch_no
),
scoped as (
    select '' as scope, started_at_utc, ended_at_utc from stretches
    union all
    select machine_group as scope, started_at_utc, ended_at_utc from stretches where machine_group is not null
),
steps as (
    select scope, started_at_utc as at_utc, 1 as step from scoped
    union all
    select scope, ended_at_utc as at_utc, -1 as step from scoped
),
moments as (select scope, at_utc, sum(step) as step from steps group by scope, at_utc),
levels as (
    select
        scope, at_utc,
        sum(step) over (partition by scope order by at_utc rows unbounded preceding) as machines_count,
        lead(at_utc) over (partition by scope order by at_utc) as until_utc
    from moments
),
spent as (
    select
        scope, machines_count,
        sum(date_diff('microsecond', at_utc, until_utc)) * 1e-6 / 3600 as hours_h,
        min(at_utc) as first_at_utc
    from levels
    where machines_count > 0
    group by scope, machines_count
)
select scope, machines_count, hours_h, first_at_utc from spent order by scope, machines_count
"""
OWNED = """
select c.machine_group, count(*) as owned_count
from clean_machines as c
cross join core_as_of as a
where c.retired_at_utc is null or c.retired_at_utc > a.as_of_at_utc
group by c.machine_group
order by c.machine_group nulls last
"""
MOST_GROUPS = 40
ENOUGH = 0.99


def measure_needs(store: Store) -> dict[str, Any]:
    """Most machines booked at once in the room and in each group, for how long, and how many the register owns.

    ``rooms`` has the whole room first (group None), then groups by name, at most 40; ``left_out_count`` the rest. Of
    each: ``booked_count`` at once for programme (every role but maintenance), ``booked_h`` the hours that many were,
    ``first_at`` when first (UTC), ``enough_count`` the least number that is enough for 99 % of the hours in which any
    is booked (hand-overs overlap for a minute or so), ``with_maintenance_count`` the most at once with machines booked
    for maintenance, ``owned_count`` of the register, without those retired (None: no register). Bookings are intent:
    who was booked need not have rolled.
    """
    owned = {row["machine_group"]: row["owned_count"] for row in store.read(OWNED).to_dicts()}
    levels, with_care = _levels(store, with_maintenance=False), _levels(store, with_maintenance=True)
    groups = sorted((set(levels) | {name for name in owned if name is not None}) - {""})
    counts = {"": sum(owned.values()) if owned else None, **{name: owned.get(name, 0) for name in groups}}
    rows = [
        {"group": name or None, "owned_count": counts[name], **_need(levels.get(name, []), with_care.get(name, []))}
        for name in ("", *groups[:MOST_GROUPS])
    ]
    return {"rooms": rows, "left_out_count": max(0, len(groups) - MOST_GROUPS)}


def _levels(store: Store, *, with_maintenance: bool) -> dict[str, list[dict[str, Any]]]:
    """Hours spent with each number of machines booked at once, fewest first, by scope; "" is the whole room."""
    found: dict[str, list[dict[str, Any]]] = {}
    for row in store.read(BOOKED, [with_maintenance]).iter_rows(named=True):
        found.setdefault(row["scope"], []).append(row)
    return found


def _need(levels: list[dict[str, Any]], with_care: list[dict[str, Any]]) -> dict[str, Any]:
    most: dict[str, Any] = levels[-1] if levels else {"machines_count": 0, "hours_h": 0.0, "first_at_utc": None}
    return {
        "booked_count": int(most["machines_count"]),
        "booked_h": float(most["hours_h"]),
        "first_at": most["first_at_utc"].isoformat() + "Z" if most["first_at_utc"] else None,
        "enough_count": _enough(levels),
        "with_maintenance_count": int(with_care[-1]["machines_count"]) if with_care else 0,
    }


def _enough(levels: list[dict[str, Any]]) -> int:
    """The least number that is not exceeded for the share ``ENOUGH`` of the booked hours."""
    booked_h, so_far_h = sum(row["hours_h"] for row in levels), 0.0
    for row in levels:
        so_far_h += row["hours_h"]
        if so_far_h >= ENOUGH * booked_h:
            return int(row["machines_count"])
    return 0
