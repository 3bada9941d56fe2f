"""What logs, tickets and register say of each machine that money can be put on: small, and without a price."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.store import Store

SECONDS_AN_HOUR = 3600.0
EVENTS = """
select
    r.machine,
    count(*) as events_count,
    count(r.switch_no) as switches_count,
    count(*) filter (where i.is_demand and not i.is_met and not i.is_healed) as failed_count,
    count(*) filter (where i.is_demand and i.is_healed) as healed_count,
    cast(coalesce(sum(i.lost_s), 0) as double) as lost_s,
    cast(coalesce(max(i.lost_s), 0) as double) as longest_s
from core_recoveries as r
left join core_interruptions as i on r.interruption_no = i.interruption_no
where r.machine is not null
group by r.machine
order by r.machine
"""
# Of a ticket that names a part priced in site.toml only the hours count: its change has a cost of its own.
TICKETS = """
with
read as (
    select *, part is not null and regexp_matches(lower(part), ?) as is_priced_apart
    from clean_tickets
    where machine is not null
),
counted as (
    select
        machine,
        count(*) as tickets_count,
        count(labour_h) as labour_count,
        coalesce(sum(labour_h order by labour_h), 0) as labour_h,
        count(parts_cost) filter (where not is_priced_apart) as priced_count,
        coalesce(sum(parts_cost order by parts_cost) filter (where not is_priced_apart), 0) as parts_cost,
        count(*) filter (where (part is not null or parts_cost is not null) and not is_priced_apart) as with_part_count
    from read
    group by machine
)
select * from counted order by machine
"""
NO_PART = "a^"  # matches no text
REGISTER = """
select c.machine, c.kind, c.pair, c.machine_group, c.replacement_cost
from clean_machines as c
cross join core_as_of as a
where c.retired_at_utc is null or c.retired_at_utc > a.as_of_at_utc
order by c.pair nulls last, c.machine
"""
RETIRED = """
select c.machine
from clean_machines as c
cross join core_as_of as a
where c.retired_at_utc <= a.as_of_at_utc
order by c.machine
"""
SPAN = """
with moments as (
    select first_at_utc as at_utc from core_heard_spans
    union all
    select last_at_utc from core_heard_spans
    union all
    select at_utc from core_switches
),
span as (select date_diff('microsecond', min(at_utc), max(at_utc)) * 1e-6 / 3600 as span_h from moments)
select span_h from span
"""


@dataclass(frozen=True)
class Record:
    """One machine's record over the span of the data. Hours end in ``_h``; counts are whole; nothing is priced.

    ``events``: interruptions and protect switches of the machine on air, once each. ``head_h`` None: not known.
    """

    machine: str
    air_h: float
    exposed_h: float
    events: int
    switches: int
    failed: int
    healed: int
    lost_s: float
    longest_s: float
    tickets: int
    labour_count: int
    labour_h: float
    priced_count: int
    parts_cost: float
    with_part_count: int
    head_h: float | None = None
    pair: str | None = None
    group: str | None = None
    kind: str | None = None
    replacement_cost: float | None = None
    in_register: bool = False


def read_records(store: Store, figures: Mapping[str, Any], kinds: Sequence[str] = ()) -> list[Record]:
    """One record a machine that is not retired, those in the register first, by pair and name.

    ``kinds``: kinds of parts whose changes are priced by themselves; a ticket whose part names one as a word adds its
    hours, not its part.

    Reads ``core_recoveries``, ``core_interruptions``, ``clean_tickets`` and ``clean_machines``; air and exposed time
    from ``figures["machines"]``, hours of heads on tape from the section ``duty``.
    """
    air = {row["machine"]: row for row in figures["machines"]}
    pattern = "|".join(rf"\b{re.escape(kind.lower())}\b" for kind in kinds) or NO_PART
    tables = [_by_machine(store, EVENTS, []), _by_machine(store, TICKETS, [pattern])]
    duty = {row["machine"]: row for row in figures["transports"].get("duty", {}).get("machines", [])}
    register = {row["machine"]: row for row in store.read(REGISTER).to_dicts()}
    names = [*register, *sorted((set(air) | set().union(*tables)) - set(register) - retired(store))]
    return [
        _record(
            name, air.get(name, {}), [table.get(name, {}) for table in tables], duty.get(name, {}), register.get(name)
        )
        for name in names
    ]


def retired(store: Store) -> set[str]:
    """Machines that the register says had been retired by the data-as-of time."""
    return set(store.read(RETIRED)["machine"].to_list())


def read_span_h(store: Store, figures: Mapping[str, Any]) -> float:
    """Hours from the first to the last stamp of the logs, as the section ``duty`` has them."""
    stated = figures["transports"].get("duty", {}).get("span_h")
    return float(stated if stated is not None else store.value(SPAN) or 0.0)


def _by_machine(store: Store, query: str, values: list[Any]) -> dict[str, dict[str, Any]]:
    return {row["machine"]: row for row in store.read(query, values).to_dicts()}


def _record(
    name: str, air: Mapping[str, Any], tables: Sequence[Mapping[str, Any]], duty: Mapping[str, Any],
    line: Mapping[str, Any] | None,
) -> Record:  # fmt: skip
    events, tickets = tables
    return Record(
        machine=name,
        air_h=air.get("air_s", 0.0) / SECONDS_AN_HOUR,
        exposed_h=air.get("exposed_s", 0.0) / SECONDS_AN_HOUR,
        events=events.get("events_count", 0),
        switches=events.get("switches_count", 0),
        failed=events.get("failed_count", 0),
        healed=events.get("healed_count", 0),
        lost_s=events.get("lost_s", 0.0),
        longest_s=events.get("longest_s", 0.0),
        tickets=tickets.get("tickets_count", 0),
        labour_count=tickets.get("labour_count", 0),
        labour_h=tickets.get("labour_h", 0.0),
        priced_count=tickets.get("priced_count", 0),
        parts_cost=tickets.get("parts_cost", 0.0),
        with_part_count=tickets.get("with_part_count", 0),
        head_h=duty.get("head_h"),
        pair=line["pair"] if line else None,
        group=line["machine_group"] if line else None,
        kind=line["kind"] if line else None,
        replacement_cost=line["replacement_cost"] if line else None,
        in_register=line is not None,
    )


def total(records: Iterable[Record], name: str) -> float:
    """The sum of one number over ``records``."""
    return float(sum(getattr(record, name) for record in records))
