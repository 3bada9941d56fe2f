"""The numbers a case is made of: what the site states, what the register holds and what was measured, each by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.costs import NUMBERS, Costs
from pipeline.measure.transports.case.laws import Evened, RateLaw, even
from pipeline.measure.transports.case.options import CHANGES, EVENTS, FRESH_EVENTS, FRESH_TICKETS, TICKETS, Values
from pipeline.measure.transports.case.records import Record, total
from pipeline.measure.transports.years import HOURS_A_YEAR
from pipeline.statistics import proportion_limits

STATED, REGISTER, MEASURED = "site.toml", "the register", "measured"


@dataclass(frozen=True)
class Room:
    """What the machines' cases have in common.

    ``values``: the room's means by name. ``within``: 95 % limits of those that have exact ones. ``events`` and
    ``tickets``: the laws of each machine's rates, in the order of the records, per 1,000 air hours and per year.
    """

    values: Values
    within: Mapping[str, tuple[float, float]]
    events: Evened
    tickets: Evened


@dataclass(frozen=True)
class Case:
    """One machine's numbers by name, where each comes from, the laws of its rates and the limits of what has any."""

    record: Record
    values: Values
    sources: Mapping[str, str]
    laws: Mapping[str, RateLaw]
    within: Mapping[str, tuple[float, float]]


def watched_years(records: Sequence[Record], span_h: float, outlook: Mapping[str, Any]) -> list[float]:
    """Years each machine could have been used in: as the outlook has them, else the span of the data."""
    years = []
    for record in records:
        pace = outlook.get(record.machine, {}).get("air_h_per_year")
        years.append(record.air_h / pace if pace and record.air_h > 0 else span_h / HOURS_A_YEAR)
    return years


def sum_up_room(records: Sequence[Record], years: Sequence[float]) -> Room:
    """The room's means and the evened rates of its machines; some of ``records`` must have air.

    Seconds lost, failures of protect and switches of one event, hours and parts of one ticket are the room's means: one
    machine has too few of them to tell. A ticket that states no hours counts with that mean; one that names a part but
    no price counts with the mean price; one that names neither had no part.
    """
    events, tickets = total(records, "events"), total(records, "tickets")
    values: dict[str, float] = {}
    within: dict[str, tuple[float, float]] = {}
    if events:
        failed = total(records, "failed")
        values["lost_s_per_event"] = total(records, "lost_s") / events
        values["failed_ratio"] = failed / events
        values["switches_per_event"] = total(records, "switches") / events
        within["failed_ratio"] = proportion_limits(int(failed), int(events))
    if labour := total(records, "labour_count"):
        values["labour_h_per_ticket"] = total(records, "labour_h") / labour
    with_part, priced = total(records, "with_part_count"), total(records, "priced_count")
    if tickets and (priced or not with_part):
        price = total(records, "parts_cost") / priced if priced else 0.0
        values["parts_per_ticket"] = with_part / tickets * price
    return Room(
        values,
        within,
        # A switch in the very instant a window began leaves an event with no air: no rate can be made of it.
        even([record.events * (record.air_h > 0) for record in records], [record.air_h / 1000 for record in records]),
        even([record.tickets for record in records], list(years)),
    )


def changes_per_1000_h(parts: Mapping[str, Any], costs: Costs | None) -> dict[str, float]:
    """What changing a kind of part has cost per 1,000 hours of its use, at the lives it achieved in this room.

    (failed × its cost after failure + taken out before × its planned cost) / hours of all of them together, for each
    kind whose costs are stated. Lives are hours of heads on tape.
    """
    found = {}
    for kind in parts.get("kinds", []):
        cost, used_h = costs.of_part(kind["kind"]) if costs else None, kind["life_h"]
        if cost and used_h:
            spent = kind["failed_count"] * cost.failure + kind["taken_out_count"] * cost.planned
            found[f"{CHANGES}{kind['kind']} per 1000 h"] = 1000 * spent / used_h
    return found


def make_case(
    record: Record, place: int, room: Room, costs: Costs | None, *,
    years: float, changes: Mapping[str, float], trend: float | None,
) -> Case:  # fmt: skip
    """The numbers of the machine at ``place`` of the records; what is not known has no name in them."""
    laws = {EVENTS: room.events.machines[place], TICKETS: room.tickets.machines[place]}
    laws |= {FRESH_EVENTS: room.events.fresh} if room.events.fresh else {}
    laws |= {FRESH_TICKETS: room.tickets.fresh} if room.tickets.fresh else {}
    measured: dict[str, float] = {**{name: law.mean for name, law in laws.items()}, **room.values}
    measured |= {"air_h_per_year": record.air_h / years, "exposed_h_per_year": record.exposed_h / years}
    if record.head_h is not None:
        measured |= {"head_h_per_year": record.head_h / years, **changes}
    if trend is not None:
        measured["trend_ratio"] = trend
    stated = {name: getattr(costs, name) for name in NUMBERS if costs and getattr(costs, name) is not None}
    register = {}
    if "replacement" not in stated and record.replacement_cost is not None:
        register = {"replacement": record.replacement_cost}
    sources = {
        **dict.fromkeys(measured, MEASURED),
        **dict.fromkeys(stated, STATED),
        **dict.fromkeys(register, REGISTER),
    }
    limits = {**room.within, **{name: (law.low, law.high) for name, law in laws.items()}}
    return Case(record, {**stated, **register, **measured}, sources, laws, limits)
