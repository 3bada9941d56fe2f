"""The case for or against each machine: what keeping it costs a year, against overhaul, replacement and lighter duty.

Of money nothing is known here but what site.toml and the register state. Where the site states no costs, what can be
said without money is said: events, seconds and tickets to expect of a year.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from pipeline.measure.transports.case.judging import chances, flips, judge_options
from pipeline.measure.transports.case.needs import measure_needs
from pipeline.measure.transports.case.options import EVENTS, KEEP, TICKETS
from pipeline.measure.transports.case.records import Record, read_records, read_span_h
from pipeline.measure.transports.case.values import (
    Case,
    changes_per_1000_h,
    make_case,
    sum_up_room,
    watched_years,
)
from pipeline.settings import Settings
from pipeline.statistics import poisson_limits
from pipeline.store import Store

MOST_MACHINES = 24  # with a page of their own: those with most air
TOTAL = "total"
TABLE = {
    "machine": pl.String, "option": pl.String, "line": pl.String, "amount": pl.Float64, "low": pl.Float64,
    "high": pl.Float64, "unit": pl.String, "source": pl.String,
}  # fmt: skip
SOURCES = {
    "price over its life": "price and life stated, spread over the life at the discount rate stated",
    "air played elsewhere": "air hours measured, price of an hour stated",
    "labour": "tickets measured, hours of a ticket measured, price of an hour stated",
    "parts on tickets": "tickets measured, parts of a ticket as priced on tickets",
    "on air": "events and air hours measured, prices of what an event brings stated",
    "exposed air": "exposed hours measured, price of an hour stated",
    TOTAL: "sum of the lines",
}
CHANGED = "hours of heads on tape and changes measured, prices of a change stated"


def measure_case(store: Store, settings: Settings, figures: Mapping[str, Any]) -> dict[str, Any]:
    """The section ``case``; writes ``measure_case``, one row a machine, option and line, and its total.

    Machines have a case where some air or ticket is recorded, they are not retired and the room has air. ``machines``
    holds the ``MOST_MACHINES`` with most air in register order; ``left_out_count`` the others, which are in the table
    only. Money a year in ``currency``, at the pace of the span of the data; None is "not stated" or "not known".
    """
    kinds = [part.kind for part in settings.costs.parts] if settings.costs else []
    records = [record for record in read_records(store, figures, kinds) if record.air_h > 0 or record.tickets]
    needs, span_h = measure_needs(store), read_span_h(store, figures)
    if not any(record.air_h > 0 for record in records) or span_h <= 0:
        store.write("measure_case", pl.DataFrame(schema=TABLE))
        return {"currency": None, "span_h": span_h, "needs": needs, "room": None, "machines": [], "left_out_count": 0}
    cases = build_cases(records, span_h, settings, figures["transports"])
    store.write("measure_case", _table(cases, settings))
    most = sorted(cases, key=lambda case: -case.record.air_h)[:MOST_MACHINES]
    shown = [case for case in cases if case in most]
    has_costs = settings.costs is not None
    rates = _rates(figures["transports"])
    return {
        "currency": settings.costs.currency if settings.costs else None,
        "span_h": span_h,
        "needs": needs,
        "room": describe_room(records, cases[0]),
        "machines": [judge_case(case, has_costs=has_costs) | rates.get(case.record.machine, {}) for case in shown],
        "left_out_count": len(cases) - len(shown),
    }


def build_cases(
    records: Sequence[Record], span_h: float, settings: Settings, sections: Mapping[str, Any]
) -> list[Case]:
    """The numbers of every machine's case, in the order of ``records``; ``sections``: those measured before."""
    outlook = {row["machine"]: row for row in sections.get("outlook", {}).get("machines", [])}
    years = watched_years(records, span_h, outlook)
    room, costs = sum_up_room(records, years), settings.costs
    changes = changes_per_1000_h(sections.get("parts", {}), costs)
    return [
        make_case(record, place, room, costs, years=years[place], changes=changes, trend=_trend(record, outlook))
        for place, record in enumerate(records)
    ]


def _trend(record: Record, outlook: Mapping[str, Any]) -> float | None:
    """Where a trend stands: the switches the outlook carries forward, as a share of those at the rate so far."""
    row = outlook.get(record.machine, {})
    if row.get("basis") != "changing" or not record.switches or not record.air_h:
        return None
    return float(row["switches"]["mean"] / (record.switches * row["air_h_per_year"] / record.air_h))


def describe_room(records: Sequence[Record], any_case: Case) -> dict[str, Any]:
    """What the machines have in common, without money; ``any_case`` is one of theirs."""
    names = ("lost_s_per_event", "failed_ratio", "switches_per_event", "labour_h_per_ticket", "parts_per_ticket")
    longest = max(record.longest_s for record in records)
    events, lost = sum(record.events for record in records), sum(record.lost_s for record in records)
    return {
        **{name: any_case.values.get(name) for name in names},
        "failed_low": any_case.within["failed_ratio"][0] if events else None,
        "failed_high": any_case.within["failed_ratio"][1] if events else None,
        "events": events,
        "failed": sum(record.failed for record in records),
        "healed": sum(record.healed for record in records),
        "longest_s": longest,
        "lost_s_per_event_without_longest": (lost - longest) / (events - 1) if events > 1 else None,
        "tickets": sum(record.tickets for record in records),
        "tickets_without_hours": sum(record.tickets - record.labour_count for record in records),
    }


def judge_case(case: Case, *, has_costs: bool) -> dict[str, Any]:
    """One machine's case as plain values: what a year is expected to bring and, with costs, the options."""
    record, values = case.record, case.values
    low, high = poisson_limits(record.events, record.air_h / 1000) if record.air_h > 0 else (None, None)
    per_year = _rate(case, EVENTS, values["air_h_per_year"] / 1000 * values.get("trend_ratio", 1.0))
    found: dict[str, Any] = {
        "machine": record.machine,
        "pair": record.pair,
        "group": record.group,
        "kind": record.kind,
        "air_h": record.air_h,
        "events": record.events,
        "raw": {"value": record.events / record.air_h * 1000 if record.air_h > 0 else None, "low": low, "high": high},
        "evened": _rate(case, EVENTS, 1.0),
        "events_per_year": per_year,
        "lost_s_per_year": None,
        "tickets": record.tickets,
        "tickets_per_year": _rate(case, TICKETS, 1.0),
        "inputs": [_input(case, name) for name in values],
    }
    if "lost_s_per_event" in values:
        found["lost_s_per_year"] = {name: end * values["lost_s_per_event"] for name, end in per_year.items()}
    if not has_costs:
        return found
    judged = judge_options(values, case.laws)
    chance = chances(values, case.laws) if judged["next"] else {KEEP: 1.0}
    return {**found, **judged, "chances": chance, "flips": flips(values, case.within)}


def _rate(case: Case, name: str, scale: float) -> dict[str, float]:
    law = case.laws[name]
    return {"value": law.mean * scale, "low": law.low * scale, "high": law.high * scale}


def _input(case: Case, name: str) -> dict[str, Any]:
    low, high = case.within.get(name, (None, None))
    return {"input": name, "value": case.values[name], "low": low, "high": high, "source": case.sources[name]}


def _rates(sections: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Of each machine: whether its air rate is named as different, and the comparison behind it."""
    measures = [row for row in sections.get("rates", {}).get("measures", []) if row["measure"] == "air"]
    names = ("ratio", "p", "adjusted_p", "is_named")
    return {
        row["machine"]: {"comparison": {name: row.get(name) for name in names}}
        for measure in measures
        for row in measure["machines"]
    }


def _table(cases: Sequence[Case], settings: Settings) -> pl.DataFrame:
    """Every machine's lines and totals; empty where the site states no costs."""
    if settings.costs is None:
        return pl.DataFrame(schema=TABLE)
    unit = f"{settings.costs.currency} a year"
    rows = []
    for case in cases:
        for option in judge_options(case.values, case.laws)["options"]:
            lines = option["lines"] + ([{"line": TOTAL, **option}] if option["lines"] else [])
            rows += [
                (case.record.machine, option["option"], line["line"], line["value"], line["low"], line["high"], unit,
                 SOURCES.get(line["line"], CHANGED))
                for line in lines
            ]  # fmt: skip
    return pl.DataFrame(rows, schema=TABLE, orient="row")
